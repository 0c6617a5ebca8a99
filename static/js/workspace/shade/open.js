// Shade over the plan and other ways to wire: each part is a module of its own on the same roof.

import { by } from "../dom.js";
import { Ways } from "../strings/ways.js";
import { Clock } from "./clock.js";
import { Heat } from "./heat.js";

export function openShade(roof) {
  by("ws-layers").hidden = false;
  new Clock(roof);
  new Heat(roof);
  new Ways(roof);
}
