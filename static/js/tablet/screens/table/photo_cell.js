// A cell for pictures: the whole cell is the camera's button; a picture is kept at once.
import { h, icon } from "../../dom.js";
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
        "aria-label": `${rowTitle(at.step)}, ${at.spec.label}: take a photo`,
      },
      icon("camera"),
      h("span", { class: "cell-photo-words" }, face),
    ),
    says,
  ];
}
