// The keys of the number pad: what they are called, and what a keyboard types for them.
import { gettext } from "../language.js";

export const KEYS = ["7", "8", "9", "4", "5", "6", "1", "2", "3", ".", "0", "⌫"];
export const NAMES = { "⌫": gettext("Delete last"), ".": gettext("Point"), "−": gettext("Change sign") };
export const TYPED = { Backspace: "⌫", "-": "−", ",": "." };
export const PARTS = [
  ["⅛", 0.125],
  ["¼", 0.25],
  ["½", 0.5],
  ["¾", 0.75],
];
