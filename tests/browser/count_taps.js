// Counts what a hand does on the tablet: taps, typed values, photos. Run in the page, once.
//
// A tap is a click on a control. A typed value is all keys of the number pad with the one that ends it, or all
// letters of an input with Enter; the tap that opens either counts apart. A photo is the picture; the taps on the
// camera's button are told apart.
() => {
  const count = { taps: 0, typed: 0, photos: 0, cameras: 0 };
  window.handCount = count;
  const controls = "a, button, summary, label.choice, label.tick, canvas";
  document.addEventListener(
    "click",
    (event) => {
      const control = event.target.closest(controls);
      if (!event.isTrusted || !control || control.matches(".pad-key")) return;
      if (control.matches(".pad-save")) count.typed += 1;
      else count.taps += 1;
    },
    true,
  );
  document.addEventListener(
    "change",
    (event) => {
      if (event.target.type === "file") {
        count.cameras += 1;
        count.photos += event.target.files.length;
      } else if (event.target.matches("input:not([type=checkbox]), textarea")) {
        count.taps += 1; // into the input
        count.typed += 1;
      }
    },
    true,
  );
};
