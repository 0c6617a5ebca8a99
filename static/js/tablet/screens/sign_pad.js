// The pad a signature is drawn on: keeps its strokes when the tablet is turned, and can be wiped.
import SignaturePad from "../../../vendor/signature_pad-5.1.4.min.js";
import { h } from "../dom.js";
import { gettext } from "../language.js";
import { unfinished } from "../unfinished.js";

const INK = "#1c2224";

// { pad, canvas, area }: the pad itself, what it draws on, and the element to show.
export function signatureArea() {
  const canvas = h("canvas", { role: "img", "aria-label": gettext("Signature, empty") });
  const pad = new SignaturePad(canvas, { minWidth: 0.8, maxWidth: 2.6, penColor: INK });
  pad.addEventListener("beginStroke", () => unfinished(canvas, true));
  pad.addEventListener("endStroke", () => canvas.setAttribute("aria-label", "Signature, drawn"));
  new ResizeObserver(() => fit(canvas, pad)).observe(canvas);
  const clear = () => {
    pad.clear();
    unfinished(canvas, false);
    canvas.setAttribute("aria-label", "Signature, empty");
  };
  const area = h(
    "div",
    { class: "signature" },
    canvas,
    h(
      "div",
      { class: "signature-line" },
      h("span", {}, gettext("Sign above the line with finger or pen.")),
      h("button", { class: "btn btn-secondary", type: "button", onclick: clear }, gettext("Clear")),
    ),
  );
  return { pad, canvas, area };
}

function fit(canvas, pad) {
  const ratio = Math.max(devicePixelRatio || 1, 1);
  const strokes = pad.toData();
  canvas.width = canvas.offsetWidth * ratio;
  canvas.height = canvas.offsetHeight * ratio;
  canvas.getContext("2d").scale(ratio, ratio);
  pad.clear();
  pad.fromData(strokes);
}
