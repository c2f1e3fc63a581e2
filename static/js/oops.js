// What goes wrong in a script nobody at the bench can read: the PC notes message, place and version, and nothing else.

const MOST = 5;
const KEPT = "oops"; // those that could not be sent, for the next page
const seen = new Set();

function kept() {
  try {
    return JSON.parse(localStorage.getItem(KEPT)) || [];
  } catch {
    return [];
  }
}

async function tell(one) {
  const answer = await fetch("/oops", { method: "POST", keepalive: true,
    headers: { "Content-Type": "application/json", Accept: "application/json" }, body: JSON.stringify(one) });
  if (answer.status >= 500) throw new Error("not noted");
}

function tellOrKeep(one) {
  tell(one).catch(() => {
    try {
      localStorage.setItem(KEPT, JSON.stringify([...kept(), one].slice(-MOST)));
    } catch {
      // no room left on this tablet: then it is not noted
    }
  });
}

function note(thrown, message, address, line) {
  const [, file, row] = /(\/(?:static\/[\w./-]+|sw)\.js)[^:]*:(\d+)/.exec(thrown?.stack || "") || [];
  const one = {
    message: String(message).slice(0, 400), line: Number(row || line || 0), page: document.documentElement.dataset.app || "",
    file: file || (/\/static\/[\w./-]+\.js/.exec(address || "") || ["page"])[0],
  };
  const name = `${one.message} ${one.file} ${one.line}`;
  if (seen.has(name) || seen.size >= MOST) return;
  seen.add(name);
  tellOrKeep(one);
}

addEventListener("error", (event) => {
  if (event instanceof ErrorEvent) note(event.error, event.error || event.message, event.filename, event.lineno);
});
addEventListener("unhandledrejection", (event) => note(event.reason, event.reason, "", 0));

const left = kept();
if (left.length) {
  localStorage.removeItem(KEPT);
  for (const one of left) tellOrKeep(one);
}
