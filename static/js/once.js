// A form that is on its way is not sent a second time: what an impatient or a wet hand taps twice is stored once.

const LONG = 20000; // ms after which an answer that did not come is not waited for any longer
const FILE = 1000; // ms: a form that is answered with a file leaves the page where it is, and may be meant once more
const onItsWay = new Map();

addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post") return; // sent by a script of its own, or not sent at all
  const at = performance.now();
  if (at - (onItsWay.get(form) ?? -LONG) < (form.dataset.gives === "file" ? FILE : LONG)) event.preventDefault();
  else onItsWay.set(form, at);
});
// Whoever comes back to a page that the browser kept may send its form anew.
addEventListener("pageshow", () => onItsWay.clear());
