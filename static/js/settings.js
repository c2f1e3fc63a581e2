// What this tablet is set to: the pedal's key, the hand it is worked with, whether steps are read aloud. It stays here.

const KEY = "this-tablet"; // js/before.js reads it too, before anything is painted
export const PEDAL = { code: "PageDown", key: "PageDown" };
const USUAL = { pedal: PEDAL, hand: "right", aloud: false };

function kept() {
  try {
    return JSON.parse(localStorage.getItem(KEY)) || {};
  } catch {
    return {};
  }
}

export function settings() {
  const all = { ...USUAL, ...kept() };
  return { ...all, pedal: all.pedal?.key ? all.pedal : PEDAL };
}

export function change(what) {
  localStorage.setItem(KEY, JSON.stringify({ ...kept(), ...what }));
}
