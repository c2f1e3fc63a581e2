// What every page needs: its data, its words, who works at this tablet.

export const data = JSON.parse(document.getElementById("data").textContent);
export const words = data.words;
export const $ = (selector, root = document) => root.querySelector(selector);
export const $$ = (selector, root = document) => [...root.querySelectorAll(selector)];

export function say(template, values = {}) {
  return template.replace(/\{(\w+)\}/g, (_, name) => (name in values ? values[name] : ""));
}

// English has two forms; another language brings its own, with a digit for each number below 200 that says which.
export function counted({ forms, by }, n) {
  return say(forms[by ? by[n < 200 ? n : 100 + (n % 100)] : +(n !== 1)], { n });
}

export function setText(element, text) {
  if (element && element.textContent !== text) element.textContent = text;
}

const PERSON = "person";

export function person() {
  try {
    return JSON.parse(localStorage.getItem(PERSON)) || null;
  } catch {
    return null;
  }
}

export function setPerson(found) {
  localStorage.setItem(PERSON, JSON.stringify(found));
  showPerson();
}

export function showPerson() {
  const found = person();
  setText($("#person"), found ? found.name : words.signIn);
}

export function wallClock(ms, zone, seconds = false) {
  const parts = { hour: "2-digit", minute: "2-digit", hour12: false, timeZone: zone };
  if (seconds) parts.second = "2-digit";
  return new Intl.DateTimeFormat("en-GB", parts).format(ms);
}

// Since when something is over: with the day, where that was another one.
export function since(ms, at, zone) {
  const day = (moment) => new Intl.DateTimeFormat("sv-SE", { timeZone: zone }).format(moment);
  return day(ms) === day(at) ? wallClock(ms, zone) : `${day(ms)} ${wallClock(ms, zone)}`;
}

export function showStatus(status) {
  const element = $("#status");
  const values = { n: status.waiting, why: status.broken };
  let key = status.waiting ? "waiting" : "stored";
  if (!status.online) key = status.waiting ? "offline" : "idle";
  if (status.foreign) key = status.foreign;
  if (status.broken) key = "broken";
  let text = say(words.status[key], values);
  if (status.marked) text += ` · ${say(words.status.marked, { n: status.marked })}`;
  if (!status.worker) text += ` · ${words.status.reload}`;
  if (status.sleeps) text += ` · ${words.status.sleeps}`;
  element.dataset.status = key;
  element.dataset.waiting = status.waiting;
  setText(element, text);
}

// A worker whose installing broke off is thrown away, and `ready` would wait for ever.
function settled(worker) {
  return new Promise((resolve, reject) => {
    const look = () => {
      if (worker.state === "activated") resolve();
      else if (worker.state === "redundant") reject(new Error("the worker could not be installed"));
    };
    worker.addEventListener("statechange", look);
    look();
  });
}

// Keeps pages of opened jaws at hand; without it the outbox still works, and the status line says so.
export async function startWorker(mayTakeOver) {
  try {
    // Firefox and WebKit answer only once the PC did: a PC that hangs must not keep a page waiting that has a worker.
    const registering = navigator.serviceWorker.register("/sw.js");
    registering.catch(() => {});
    const { controller } = navigator.serviceWorker;
    const registration = (controller && (await navigator.serviceWorker.getRegistration())) || (await registering);
    if (mayTakeOver && registration.waiting) registration.waiting.postMessage("take over");
    if (!registration.active) await settled(registration.installing || registration.waiting);
    // A page that was loaded before there was a worker is not among what it keeps: it asks for itself once more.
    if (!(await caches.match(location.pathname))) await fetch(location.pathname);
    return Boolean(await caches.match(location.pathname));
  } catch {
    return false;
  }
}
