// The day's list says when it can no longer be renewed; htmx renews it.

const stale = document.getElementById("stale");
const say = (hidden) => () => { stale.hidden = hidden; };
for (const name of ["htmx:sendError", "htmx:responseError", "htmx:timeout"]) document.body.addEventListener(name, say(false));
document.body.addEventListener("htmx:afterSwap", say(true));
