// Only caches: pages and pictures of opened jaws, the first page, scripts, styles, drawings. No fact ever passes through here.
const NAME = "seat-and-cure-{{ version }}";
const FILES = {{ files | safe }};
const WHEN_USED = {{ when_used | safe }};
const PATIENCE = 1500;
const HANGING = 10000;
const LATE = {};
let hung = 0;
const FIRST = ["/", "/tablet"];
// A jaw's seating check and its two pictures are kept like its page: from when they were first shown.
const PAGES = [
  /^\/(tablet)?$/, /^\/(bench|chamber)\/[0-9A-Z]+$/, /^\/bench\/[0-9A-Z]+\/seating$/, /^\/seating\/[0-9A-Z]+\.(glb|png)$/,
];

// A stranger's page with status 200 (a guest network's, say) is never kept and never shown in place of a kept one.
const ours = (response) => response.headers.has("Seat-And-Cure");

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(NAME).then((cache) => Promise.all([...FILES, ...FIRST].map(async (address) => {
    const response = await fetch(address, { cache: "reload" });
    if (!response.ok || !ours(response)) throw new Error(`${address} did not come from the PC`);
    await cache.put(address, response);
  }))));
});

// A newer version waits until the first page, where no step runs, says so.
self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
  else if (event.data?.pages) event.waitUntil(tellMissing(event.data.pages, event.ports[0]));
});

// A page asks what is not kept here, so that "ready" is said only when it is true.
async function tellMissing(pages, port) {
  const cache = await caches.open(NAME);
  const kept = new Set((await cache.keys()).map((request) => new URL(request.url).pathname));
  const missing = [...FILES, ...FIRST, ...pages].filter((address) => !kept.has(address));
  port.postMessage({ version: "{{ version }}", missing });
}

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    const fresh = await caches.open(NAME);
    for (const name of await caches.keys()) {
      if (name === NAME || !name.startsWith("seat-and-cure-")) continue;
      const old = await caches.open(name);
      for (const request of await old.keys())
        if (WHEN_USED.includes(new URL(request.url).pathname)) await fresh.put(request, await old.match(request));
        else if (PAGES.some((page) => page.test(new URL(request.url).pathname))) await renew(fresh, old, request);
      await caches.delete(name);
    }
    await self.clients.claim();
  })());
});

// A page belongs to its scripts: fetch it anew with them, and keep the old one only where that fails.
async function renew(fresh, old, request) {
  const response = await fetch(request.url).catch(() => null);
  await fresh.put(request, response && response.ok && ours(response) ? response : await old.match(request));
}

// What fails in here nobody sees; the PC notes it where it can be reached.
for (const kind of ["error", "unhandledrejection"]) self.addEventListener(kind, (event) => {
  const thrown = event.error || event.reason;
  const body = JSON.stringify({ message: String(thrown).slice(0, 400), file: "/sw.js", line: event.lineno || 0,
    page: NAME.slice("seat-and-cure-".length) });
  fetch("/oops", { method: "POST", headers: { "Content-Type": "application/json" }, body }).catch(() => null);
});

self.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (event.request.method !== "GET" || address.origin !== location.origin) return;
  if (WHEN_USED.includes(address.pathname)) return void event.respondWith(keptFirst(event.request, address));
  const page = PAGES.some((known) => known.test(address.pathname));
  if (!page && !FILES.includes(address.pathname)) return;
  event.respondWith(networkFirst(event.request, address));
});

// The version stands in the name of such a file: once it is here, it is the right one.
async function keptFirst(request, address) {
  const cache = await caches.open(NAME);
  const kept = await cache.match(address.pathname);
  if (kept) return kept;
  const response = await fetch(request);
  if (response.ok && ours(response)) await cache.put(address.pathname, response.clone());
  return response;
}

async function networkFirst(request, address) {
  const cache = await caches.open(NAME);
  const kept = await cache.match(address.pathname);
  const fetched = fetch(request).then(async (response) => {
    if (response.ok && !response.redirected && ours(response)) await cache.put(address.pathname, response.clone());
    return response;
  });
  if (!kept) return fetched;
  // Once the PC has kept one file waiting, the others of the same page need not wait for it again.
  const patience = Date.now() - hung < HANGING ? 0 : PATIENCE;
  const late = new Promise((resolve) => setTimeout(resolve, patience, LATE));
  const answer = await Promise.race([fetched.catch(() => null), late]);
  fetched.then(() => { hung = 0; }, () => null);
  if (answer === LATE) {
    hung = Date.now();
    return kept;
  }
  return answer && answer.status < 500 && ours(answer) ? answer : kept;
}
