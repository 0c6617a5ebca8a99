// A cell for pictures: the whole cell is the camera's button; a picture is kept at once.
import { h, icon } from "../../dom.js";
import { gettext, interpolate } from "../../language.js";
import { cameraInput } from "../field/photos.js";
import { rowTitle } from "../pages.js";

export function photoCell(at, face) {
  const [input, says] = cameraInput(at);
  return [
    input,
    h(
      "label",
      {
        class: `cell cell-photo cell-${at.mark.mark === "ok" ? "done" : "empty"}`,
        for: input.id,
        "aria-label": interpolate(gettext("{row}, {label}: take a photo"), {
          row: rowTitle(at.step),
          label: at.spec.label,
        }),
      },
      icon("camera"),
      h("span", { class: "cell-photo-words" }, face),
    ),
    says,
  ];
}
