// Runs before the first paint: whoever works with the left hand sees nothing change sides.
(() => {
  const apply = () => {
    let kept = null;
    try {
      kept = JSON.parse(localStorage.getItem("this-tablet"));
    } catch {
      // what cannot be read is as if it were not there
    }
    document.documentElement.dataset.hand = kept?.hand === "left" ? "left" : "right";
  };
  apply();
  addEventListener("pageshow", apply); // a page that the browser kept comes back as it was left
})();
