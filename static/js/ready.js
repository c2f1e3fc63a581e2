// Whether this tablet would go on without the PC, and if not, why: the worker is asked what it really keeps.

import { change, settings } from "./settings.js";

const PATIENCE = 2000;

// What the worker does not keep of its own files and of these pages; null where no worker answers.
function missing(pages) {
  const worker = navigator.serviceWorker?.controller;
  if (!worker) return null;
  return new Promise((resolve) => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = (event) => resolve(event.data);
    setTimeout(resolve, PATIENCE, null); // one of an older version says nothing
    worker.postMessage({ pages }, [port2]);
  });
}

const persisted = async () => Boolean(await navigator.storage?.persisted?.().catch(() => false));

// Looks at everything that must hold; `codes` are the jaws that were opened here and are not at their end.
export async function readiness(codes) {
  const pages = codes.map((code) => `/bench/${code}`);
  let kept = await missing(pages);
  const lost = () => (kept ? pages.filter((page) => kept.missing.includes(page)) : pages);
  if (kept && lost().length) {
    for (const page of lost()) await fetch(page).catch(() => null); // passes the worker, which keeps it
    kept = await missing(pages);
  }
  const same = kept?.version === document.documentElement.dataset.app;
  const found = {
    secure: isSecureContext,
    worker: Boolean(navigator.serviceWorker?.controller),
    files: same && kept.missing.every((address) => pages.includes(address)),
    jaws: !lost().length,
  };
  return { ...found, ready: Object.values(found).every(Boolean), lost: lost().map((page) => page.slice(7)), kept: await persisted() };
}

// Asks the browser, once by itself and then as often as somebody wants, not to clear what is stored when room is short.
export async function askToKeep(again = false) {
  if (!navigator.storage?.persist || (settings().asked && !again) || (await persisted())) return;
  change({ asked: true });
  await navigator.storage.persist().catch(() => false);
}
