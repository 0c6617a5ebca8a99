// A drawn signature: <div class="signature" data-signature-for="id_signature_svg"></div> gets a canvas whose
// ink lands as SVG in the named hidden field. A tick box named by data-typed-for (or id_is_typed) lets a
// person sign by the typed name instead: then the canvas rests. Without script only the typed way is there.
import SignaturePad from "../vendor/signature_pad-5.1.4.min.js";

const EMPTY = "Signature, empty. To sign by keyboard tick the box for a typed name.";

function fit(canvas, pad, kept) {
  const ratio = Math.max(window.devicePixelRatio || 1, 1);
  const strokes = pad.toData();
  canvas.width = canvas.offsetWidth * ratio;
  canvas.height = canvas.offsetHeight * ratio;
  canvas.getContext("2d").scale(ratio, ratio);
  pad.clear();
  if (kept && !strokes.length)
    pad.fromDataURL(
      `data:image/svg+xml;base64,${btoa(String.fromCharCode(...new TextEncoder().encode(kept)))}`,
    );
  else pad.fromData(strokes);
}

function makeLine(onClear) {
  const line = document.createElement("div");
  line.className = "signature-line";
  const hint = document.createElement("span");
  hint.textContent = "Sign above the line with finger, pen or mouse.";
  const clear = document.createElement("button");
  clear.type = "button";
  clear.className = "btn btn-secondary btn-sm";
  clear.textContent = "Clear";
  clear.addEventListener("click", onClear);
  line.append(hint, clear);
  return line;
}

function start(box) {
  const field = document.getElementById(box.dataset.signatureFor);
  const typed = document.getElementById(box.dataset.typedFor || "id_is_typed");
  if (!field) return;
  const canvas = document.createElement("canvas");
  canvas.setAttribute("role", "img");
  canvas.setAttribute("aria-label", field.value ? "Signature, drawn" : EMPTY);
  const pad = new SignaturePad(canvas, { minWidth: 0.8, maxWidth: 2.6, penColor: "#1c2224" });
  let kept = field.value; // ink of a form that came back refused: it stands until somebody signs anew
  const write = () => {
    field.value = pad.isEmpty() ? "" : pad.toSVG();
    canvas.setAttribute("aria-label", pad.isEmpty() ? EMPTY : "Signature, drawn");
  };
  const wipe = () => {
    kept = "";
    pad.clear();
    write();
  };
  box.append(canvas, makeLine(wipe));
  pad.addEventListener("beginStroke", () => kept && wipe());
  pad.addEventListener("endStroke", write);
  new ResizeObserver(() => fit(canvas, pad, kept)).observe(canvas); // also draws it the first time
  const rest = () => {
    box.toggleAttribute("data-typed", Boolean(typed?.checked));
    typed?.checked ? pad.off() : pad.on();
  };
  typed?.addEventListener("change", rest);
  rest();
}

document.querySelectorAll(".signature[data-signature-for]").forEach(start);
