// Signs out who may work here no longer: any answer of the PC says so. The wet window is never broken into.

import { person, say, setPerson, words } from "./page.js";

const WET = "wet"; // when a page of this tablet last had wet resin before it, ms
const WET_FOR = 90000; // in the background a page hears its timer only once a minute
const QUIET = 7000; // pages that ask for nothing by themselves ask after that time
let asked = -QUIET;
let over = null;
let wetHere = false;

// Names who is signed in to the PC, with whatever is asked.
export function signedAs(me) {
  asked = performance.now();
  return me ? { "Sign-In": `${encodeURIComponent(me.id)} ${encodeURIComponent(me.signin)}` } : {};
}

// An answer may come when somebody else has signed in already: it is about whom it was asked for.
export function hearOver(me, why) {
  if (me && why) over = { me, why };
}

const same = (me) => Boolean(person()) && person().id === me.id && person().signin === me.signin;

// Another page of this tablet may show a wet jaw, which is worked in the same name.
function wet() {
  const before = wetHere;
  wetHere = document.body.dataset.phase === "wet";
  if (wetHere) localStorage.setItem(WET, String(Date.now()));
  else if (before) localStorage.removeItem(WET);
  const ago = Date.now() - Number(localStorage.getItem(WET) || -Infinity);
  return Math.abs(ago) < WET_FOR; // a clock that was set back leaves a time to come
}

// `knock` asks the PC for anything; `told` hears why somebody was signed out.
export function watchOver(knock, told) {
  setInterval(() => {
    const waits = wet();
    if (person() && performance.now() - asked > QUIET) knock();
    if (!over || waits) return;
    const { me, why } = over;
    over = null;
    if (!same(me)) return;
    setPerson(null);
    told(say(words.signedOut[why] || words.nobody, { name: me.name }));
  }, 1000);
}
