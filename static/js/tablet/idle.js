// Locks a tablet that has a PIN when nobody touched it for a while, and when the page is opened anew.
import { opensLocked } from "./people.js";
import { lock } from "./screens/pin_lock.js";

const LOOK_EVERY_MS = 5000;
let touched = Date.now();

const after = () => Number(document.body.dataset.lockAfterMin) * 60_000;

export async function watchIdle() {
  for (const name of ["pointerdown", "keydown"])
    addEventListener(
      name,
      () => {
        if (Date.now() - touched < after()) touched = Date.now();
      },
      { capture: true, passive: true },
    );
  const look = async () => {
    if (Date.now() - touched < after()) return;
    if (await opensLocked()) await lock();
    touched = Date.now();
  };
  document.addEventListener("visibilitychange", () => document.hidden || look());
  setInterval(look, LOOK_EVERY_MS);
  if (await opensLocked()) await lock();
}
