// Looks through the camera for codes until one is chosen. What it reads is shown before it is used: a sticker
// has codes for model and lot beside the one for the serial.
import { h, icon, put, tell } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { closeCamera, hasLight, NoCamera, openCamera, pictureOf, setLight } from "./camera.js";
import { codesIn, offers } from "./decode.js";

const PAUSE_MS = 80;
const SEEN_OFTEN = 2; // a code of the camera counts when two pictures say the same
const PHOTO_LONGEST = 2600;
const LOOKING = gettext("Hold the code in the frame, a hand's width away. It is read by itself.");
const BROKEN = gettext("Codes cannot be read in this browser: type the number.");

export function scanButton(label, use) {
  return h(
    "button",
    {
      class: "btn btn-secondary scan-open",
      type: "button",
      "aria-label": interpolate(gettext("Scan {label}"), { label }),
      onclick: () => openScanner(label, use),
    },
    icon("upc-scan"),
    gettext(" Scan"),
  );
}

export async function openScanner(label, use) {
  const at = { label, use, seen: new Map(), offered: new Set(), isOpen: true };
  at.video = h("video", { class: "scan-video", "aria-hidden": "true" });
  at.video.muted = at.video.playsInline = true;
  at.frame = h("div", { class: "scan-frame" }, at.video);
  at.says = h("p", { class: "scan-says", role: "status" }, gettext("Opening the camera …"));
  at.list = h("div", { class: "scan-found" });
  at.tools = h("div", { class: "scan-tools" }, fromPhoto(at));
  at.dialog = dialogOf(at);
  document.body.append(at.dialog);
  at.dialog.showModal();
  try {
    await look(at);
  } catch (problem) {
    at.says.textContent = problem instanceof NoCamera ? problem.message : BROKEN;
    at.frame.hidden = true;
    closeCamera(at.stream);
  }
}

function dialogOf(at) {
  const shut = () => at.dialog.close();
  const dialog = h(
    "dialog",
    { class: "pad-view scan-view", "aria-label": interpolate(gettext("Scan {label}"), { label: at.label }) },
    h(
      "div",
      { class: "pad-head" },
      h("h2", {}, at.label),
      h("button", { class: "btn btn-secondary", type: "button", onclick: shut }, gettext("Type it instead")),
    ),
    at.frame,
    h("div", { class: "scan-side" }, at.says, at.list, at.tools),
  );
  const onHide = () => document.hidden && shut();
  const where = location.hash;
  const onTurn = () => location.hash !== where && shut(); // the page may be drawn anew beneath it
  addEventListener("hashchange", onTurn);
  document.addEventListener("visibilitychange", onHide);
  dialog.addEventListener("close", () => {
    at.isOpen = false;
    closeCamera(at.stream);
    removeEventListener("hashchange", onTurn);
    document.removeEventListener("visibilitychange", onHide);
    dialog.remove();
  });
  return dialog;
}

async function look(at) {
  at.stream = await openCamera();
  if (!at.isOpen) return closeCamera(at.stream);
  at.video.srcObject = at.stream;
  await at.video.play();
  at.says.textContent = LOOKING;
  if (hasLight(at.stream)) at.tools.append(light(at));
  while (at.isOpen) {
    const picture = pictureOf(at.video);
    const codes = picture ? await codesIn(picture) : [];
    for (const code of codes) at.seen.set(code.text, (at.seen.get(code.text) ?? 0) + 1);
    offer(
      at,
      codes.filter(({ text }) => at.seen.get(text) >= SEEN_OFTEN),
    );
    await new Promise((next) => setTimeout(next, PAUSE_MS));
  }
}

function light(at) {
  let isOn = false;
  const button = h("button", { class: "btn btn-secondary", type: "button", "aria-pressed": "false" });
  put(button, icon("lightbulb"), gettext(" Light"));
  button.addEventListener("click", async () => {
    await setLight(at.stream, !isOn).catch(() => button.remove());
    isOn = !isOn;
    button.setAttribute("aria-pressed", String(isOn));
  });
  return button;
}

// One button for each number that was read; the first one says so to somebody who does not look.
function offer(at, codes) {
  const fresh = codes.flatMap(offers).filter(({ text }) => !at.offered.has(text));
  if (!fresh.length || !at.isOpen) return;
  for (const { text, kind } of fresh) {
    at.offered.add(text);
    const choose = () => {
      at.dialog.close();
      at.use(text);
    };
    at.list.append(
      h(
        "button",
        { class: "number-open scan-use", type: "button", onclick: choose },
        h("span", {}, gettext("Use "), h("span", { class: "id" }, text)),
        h("span", { class: "scan-kind" }, kind),
      ),
    );
  }
  at.says.textContent = gettext("Compare with the sticker, then tap the right number.");
  navigator.vibrate?.(60);
  tell(interpolate(gettext("Read: {join}"), { join: fresh.map((one) => one.text).join(", ") }));
}

function fromPhoto(at) {
  const input = h("input", {
    type: "file",
    id: "scan-photo",
    accept: "image/*",
    capture: "environment",
    class: "visually-hidden",
  });
  input.addEventListener("change", () => readPhoto(at, input));
  return [
    input,
    h("label", { class: "camera", for: input.id }, icon("camera"), h("span", {}, gettext("From a photo"))),
  ];
}

async function readPhoto(at, input) {
  const [file] = input.files;
  if (!file) return;
  at.says.textContent = gettext("Reading the photo …");
  const codes = await codesOf(file).catch(() => []); // no picture, or one this browser cannot open
  input.value = "";
  if (codes.length) offer(at, codes);
  else
    at.says.textContent = gettext(
      "No code was found in this photo. Take it closer and straight, or type the number.",
    );
}

async function codesOf(file) {
  const photo = await createImageBitmap(file, { imageOrientation: "from-image" });
  try {
    return await codesIn(pictureOf(photo, PHOTO_LONGEST), { isPatient: true });
  } finally {
    photo.close();
  }
}
