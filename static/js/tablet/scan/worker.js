// Reads bar codes in a thread of its own. A worker has the policy of its own file: WebAssembly runs here and
// the page's policy stays as strict as it is.
import { prepareZXingModule, readBarcodes } from "../../../vendor/zxing-wasm-3.1.6/reader/index.js";

const OPTIONS = {
  formats: [
    "Code128",
    "Code39",
    "Code93",
    "ITF",
    "EAN13",
    "EAN8",
    "UPCA",
    "QRCode",
    "MicroQRCode",
    "DataMatrix",
  ],
  tryHarder: true,
  tryRotate: true,
  tryInvert: true,
  maxNumberOfSymbols: 8,
  textMode: "HRI", // GS1 labels with their parts in brackets: (01)…(21)serial
};

let ready;

addEventListener("message", async ({ data: { id, decoder, width, height, pixels } }) => {
  try {
    ready ??= prepareZXingModule({ overrides: { locateFile: () => decoder }, fireImmediately: true });
    await ready;
    const found = await readBarcodes(
      { width, height, data: new Uint8ClampedArray(pixels), colorSpace: "srgb" },
      OPTIONS,
    );
    const codes = found.filter((one) => one.isValid && one.text);
    postMessage({ id, codes: codes.map(({ text, format }) => ({ text, format })) });
  } catch (problem) {
    postMessage({ id, error: String(problem) });
  }
});
