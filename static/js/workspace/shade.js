// Shade over the plan and other ways to wire: each part is a module of its own on the same roof.

import { openClock } from "./clock.js";
import { openHeat } from "./heat.js";
import { openStrings } from "./strings.js";

export function openShade(roof) {
  document.getElementById("ws-layers").hidden = false;
  openClock(roof);
  openHeat(roof);
  openStrings(roof);
}
