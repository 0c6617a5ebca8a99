// While a finger is on the glass nothing under it is drawn anew: a view that comes up between down and up
// would swallow the tap.
let isDown = false;
let waiting = [];

function up() {
  setTimeout(() => {
    isDown = false;
    const ready = waiting;
    waiting = [];
    for (const go of ready) go();
  }, 0); // the click comes after the finger is up
}

addEventListener(
  "pointerdown",
  () => {
    isDown = true;
  },
  true,
);
for (const end of ["pointerup", "pointercancel"]) addEventListener(end, up, true);
addEventListener("blur", ({ target }) => (target === window ? up() : null));

// Resolves when no finger is down.
export const released = () => (isDown ? new Promise((go) => waiting.push(go)) : Promise.resolve());
