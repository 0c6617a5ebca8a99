// Finds the codes in a picture: by the browser's own detector where it reads every kind we need, else by the
// decoder that came with the shell. Either works without a network.
import { urls } from "../sending/link.js";

const NEEDED = ["code_128", "code_39", "ean_13", "itf", "data_matrix", "qr_code"];
const ALSO = ["code_93", "ean_8", "upc_a"];

let native;
let worker;
let count = 0;
const waiting = new Map();

// [{ text, kind }], each text once, in the order found; ``canvas`` holds the picture.
export async function codesIn(canvas, { isPatient = false } = {}) {
  const own = await byBrowser(canvas);
  const found = own?.length || (own && !isPatient) ? own : await byWorker(canvas);
  return [...new Map(found.map((one) => [one.text, one])).values()];
}

async function byBrowser(canvas) {
  native ??= browsersOwn();
  try {
    const found = await (await native)?.detect(canvas);
    return found?.map((one) => ({ text: one.rawValue, kind: kindOf(one.format) }));
  } catch {
    native = Promise.resolve(); // it is named but does not work here
    return undefined;
  }
}

async function browsersOwn() {
  const Detector = globalThis.BarcodeDetector;
  const formats = (await Detector?.getSupportedFormats?.().catch(() => [])) ?? [];
  if (!NEEDED.every((name) => formats.includes(name))) return undefined;
  return new Detector({ formats: [...NEEDED, ...ALSO].filter((name) => formats.includes(name)) });
}

function byWorker(canvas) {
  const { width, height } = canvas;
  const pixels = canvas.getContext("2d").getImageData(0, 0, width, height).data.buffer;
  worker ??= started();
  count += 1;
  const id = count;
  return new Promise((resolve, reject) => {
    waiting.set(id, { resolve, reject });
    worker.postMessage({ id, decoder: urls.decoder, width, height, pixels }, [pixels]);
  });
}

function started() {
  const made = new Worker(urls.scan_worker, { type: "module" });
  made.addEventListener("message", ({ data: { id, codes, error } }) => {
    const { resolve, reject } = waiting.get(id);
    waiting.delete(id);
    if (error) reject(new Error(error));
    else resolve(codes.map((one) => ({ text: one.text, kind: kindOf(one.format) })));
  });
  made.addEventListener("error", () => {
    for (const { reject } of waiting.values()) reject(new Error("the decoder did not start"));
    waiting.clear();
    worker = undefined;
  });
  return made;
}

// Both ways of writing a format, as people call it.
function kindOf(format) {
  const name = format.toLowerCase().replaceAll("_", "");
  if (name.includes("qr")) return "QR code";
  return name === "datamatrix" ? "Data Matrix" : "bar code";
}

// What a code offers as a serial number: of a GS1 label the part that is the serial, then the whole.
export function offers({ text, kind }) {
  const whole = text.trim();
  const serial = /\(21\)([^()]+)/.exec(whole)?.[1]?.trim();
  return [...(serial ? [{ text: serial, kind: `${kind}, serial part` }] : []), { text: whole, kind }];
}
