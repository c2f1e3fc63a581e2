"""What is put into the browser to measure with: a stopwatch for taps, and the bare page that is the floor."""

# From the time stamp of the click to the first task after the frame that shows the new state.
STOPWATCH = """
(() => {
  const sign = () => `${document.body?.dataset.at} ${document.getElementById("main")?.textContent}`;
  let since = null;
  let before = "";
  window.taken = [];
  document.addEventListener("click", (event) => {
    if (!event.target.closest?.("#main")) return;
    since = event.timeStamp;
    before = sign();
  }, true);
  new MutationObserver(() => {
    if (since === null || sign() === before) return;
    const began = since;
    since = null;
    requestAnimationFrame(() => {
      const after = new MessageChannel();
      after.port1.onmessage = () => window.taken.push(performance.now() - began);
      after.port2.postMessage(0);
    });
  }).observe(document, { subtree: true, childList: true, characterData: true, attributes: true });
})();
"""

BARE = """<!doctype html><html lang="en"><meta charset="utf-8"><title>floor</title><body>
<button id="main" style="width:300px;height:100px">tap</button>
<script>
  const opened = new Promise((resolve, reject) => {
    const request = indexedDB.open("floor", 1);
    request.onupgradeneeded = () => request.result.createObjectStore("outbox", { autoIncrement: true });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  document.getElementById("main").addEventListener("click", async () => {
    const tx = (await opened).transaction("outbox", "readwrite", { durability: "strict" });
    tx.objectStore("outbox").add({ fact: "x".repeat(900) });
    await new Promise((done) => { tx.oncomplete = done; });
    document.body.dataset.at = document.body.dataset.at === "a" ? "b" : "a";
  });
  opened.then(() => { document.body.dataset.loaded = "yes"; });
</script>
"""

# One tap that waits is repeated at all places, each as a fact of its own; returns how many wait then.
MULTIPLY = """
async (count) => {
  const db = await new Promise((resolve, reject) => {
    const request = indexedDB.open("seat-and-cure");
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  const done = (tx) => new Promise((resolve, reject) => { tx.oncomplete = resolve; tx.onabort = reject; });
  const reading = db.transaction("outbox");
  const all = reading.objectStore("outbox").getAll();
  await done(reading);
  const first = all.result.filter((item) => item.fact.kind === "confirm").pop();
  const places = [...document.querySelectorAll("g[data-place]")].map((g) => g.dataset.place);
  const kinds = new Set([...document.querySelectorAll("g[data-place]")]
    .filter((g) => g.dataset.place === first.fact.places[0]).map((g) => g.dataset.kind));
  const fit = places.filter((p) => kinds.has(document.querySelector(`g[data-place="${p}"]`).dataset.kind));
  const writing = db.transaction("outbox", "readwrite", { durability: "strict" });
  for (let i = all.result.length; i < count; i += 1) {
    const item = structuredClone(first);
    delete item.n; // its place in the queue is given anew
    item.fact.id = item.folded.id = crypto.randomUUID();
    item.fact.places = item.folded.places = [fit[i % fit.length]];
    item.fact.from.n += i;
    writing.objectStore("outbox").add(item);
  }
  await done(writing);
  db.close();
  return count;
}
"""

# Starts a stopwatch at the browser's `online` event and stops it when the page says that nothing waits.
DRAIN = """
() => {
  window.drained = new Promise((resolve) => {
    addEventListener("online", () => {
      const began = performance.now();
      const status = document.getElementById("status");
      new MutationObserver((_, observer) => {
        if (status.dataset.waiting !== "0") return;
        observer.disconnect();
        resolve(performance.now() - began);
      }).observe(status, { attributes: true });
    }, { once: true, capture: true });
  });
}
"""

# From the time stamp of the last click on the main action until the PC's answer to what it made was read whole.
DELIVERED = """
(() => {
  let since = null;
  window.delivered = [];
  document.addEventListener("click", (event) => {
    if (event.target.closest?.("#main")) since = event.timeStamp;
  }, true);
  const real = window.fetch.bind(window);
  window.fetch = async (address, options = {}) => {
    const response = await real(address, options);
    if (options.method !== "POST" || !String(address).startsWith("/outbox/")) return response;
    await response.clone().arrayBuffer();
    if (since !== null) window.delivered.push(performance.now() - since);
    since = null;
    return response;
  };
})();
"""

TAP_AT = """
(at) => { setTimeout(() => document.getElementById("main").click(), Math.max(0, at - Date.now())); }
"""
