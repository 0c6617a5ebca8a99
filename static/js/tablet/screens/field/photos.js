// A field with photos: taken, made small, kept here; a full tablet says so and goes on with everything else.
import { h, icon, tell } from "../../dom.js";
import { gettext, interpolate } from "../../language.js";
import { recordPhoto } from "../../record.js";
import { photoWords } from "../../rules/judging.js";
import { asDone } from "../../rules/reducer.js";
import { shrink } from "../../shrink.js";
import { photoAgain } from "../photo_again.js";
import { thumb } from "../thumbs.js";
import { byWhom, keyOf, once, undoButton } from "./saving.js";

export function photos(at) {
  const { spec, found, canRecord } = at;
  const says = h("p", { class: "field-says", role: "alert" });
  const count = h(
    "span",
    { class: "field-optional" },
    ` ${at.view.told.say(photoWords(spec, found.photos.length))}`,
  );
  return [
    h("h2", { class: "field-name" }, spec.label, count),
    found.photos.length ? taken(at) : "",
    canRecord ? camera(at, says) : "",
    canRecord ? photoAgain(at.view, at.step, spec, (...how) => once(keyOf(at), ...how)) : "",
    says,
  ];
}

function taken(at) {
  const { spec, found, canRecord } = at;
  const line = (event, place) =>
    h(
      "li",
      {},
      thumb(event, interpolate(gettext("{label}, photo {place}"), { label: spec.label, place: place + 1 })),
      byWhom(at, event),
      canRecord
        ? undoButton(
            at,
            event,
            interpolate(gettext("photo {place} of {label}"), { place: place + 1, label: spec.label }),
          )
        : "",
    );
  return h("ul", { class: "photos" }, asDone(found.standing.filter((event) => event.photo)).map(line));
}

function camera(at, says) {
  const { found } = at;
  const [input] = cameraInput(at, says);
  const words = found.photos.length ? gettext("Take another photo") : gettext("Take a photo");
  return [input, h("label", { class: "camera", for: input.id }, icon("camera"), h("span", {}, words))];
}

// The input behind a camera's button, and the place where it says what went wrong.
export function cameraInput(at, says = h("p", { class: "field-says", role: "alert" })) {
  const { spec, step } = at;
  const input = h("input", {
    type: "file",
    id: `cam-${step.pk}-${spec.name}`,
    accept: "image/*",
    capture: "environment",
    multiple: true,
    class: "visually-hidden",
    "data-key": keyOf(at),
  });
  const words = interpolate(gettext("{label}: photo saved here"), { label: spec.label });
  input.addEventListener("change", () =>
    once(keyOf(at), input.nextElementSibling, () => keepAll(at, [...input.files], says), words, at),
  );
  return [input, says];
}

async function keepAll(at, files, says) {
  for (const file of files) {
    const shot = await shrink(file);
    if (shot.error) says.textContent = shot.error;
    else await keepShot(at, shot);
  }
}

// A tablet that is full keeps ticks and numbers; of the picture it says so.
async function keepShot({ view, step, spec }, shot) {
  try {
    await recordPhoto(view, step, spec, shot);
  } catch (problem) {
    if (problem.name !== "QuotaExceededError") throw problem;
    tell(gettext("The storage is full: this photo was not kept."));
    alertFull();
  }
}

function alertFull() {
  const close = () => {
    dialog.close();
    dialog.remove();
  };
  const dialog = h(
    "dialog",
    { class: "ask", "aria-label": gettext("Storage full") },
    h(
      "p",
      { class: "ask-words" },
      gettext(
        "The tablet's storage is full: this photo was not kept. Ticks and numbers still are. Send " +
          "what waits, or remove jobs that are done, then take the photo again.",
      ),
    ),
    h(
      "div",
      { class: "ask-answers" },
      h("button", { class: "btn btn-primary btn-tall", type: "button", onclick: close }, gettext("I see")),
    ),
  );
  document.body.append(dialog);
  dialog.showModal();
}
