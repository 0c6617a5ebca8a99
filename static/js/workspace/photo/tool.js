// The tool for the photo under the plan: scaled by two known points, turned and moved, to trace from. It is
// kept with the survey.

import { by } from "../dom.js";
import { arrowOf, letterOf } from "../keys.js";
import { show } from "../lengths.js";
import { NumberForm } from "../number_form.js";
import { takeHold } from "./drag.js";
import { pointMarks } from "./marks.js";
import { Placing } from "./placing.js";
import { PhotoSaver } from "./saving.js";
import { PhotoSteps } from "./steps.js";

const LIMITS = {
  distance_mm: [50, 30000, "Between the two points", "length", true],
  x_mm: [-20000, 40000, "Middle from the rear", "length", false],
  y_mm: [-20000, 40000, "Middle from the right", "length", false],
  turn_deg: [-360, 360, "Turned to the left", "degrees", false],
  opacity: [0, 1, "Strength", "percent", false],
};
const NUMBER = { a: 1, b: 2 };

// Returns the tool; on a roof without a photo one that only looks closer.
export function photoTool(desk) {
  if (desk.start.photo) return new PhotoTool(desk);
  return { down: () => null, key: (event) => desk.viewKey(event) };
}

class PhotoTool {
  constructor(desk) {
    const { start } = desk;
    this.desk = desk;
    this.placing = new Placing(start.photo, start.roof);
    this.chosen = null; // "a" or "b"
    this.tapping = null; // the next point to be tapped
    this.held = null; // a point under the pointer
    this.image = this.lay(start.photo);
    this.steps = new PhotoSteps(start.photo, (place) => this.putBack(place));
    this.saver = new PhotoSaver(
      () => this.photo,
      (theirs) => this.takeTheirs(theirs),
    );
    this.acts = {
      tap: () => this.arm(this.tapping ? null : "a"),
      left: () => this.turnBy(0.5),
      right: () => this.turnBy(-0.5),
      level: () => this.level(),
    };
    for (const button of document.querySelectorAll("[data-photo-do]")) {
      button.addEventListener("click", () => this.acts[button.dataset.photoDo]());
    }
    this.numbers = new NumberForm(by("ws-photo-form"), {
      units: start.units,
      limits: LIMITS,
      wrong: by("ws-photo-wrong"),
      set: (name, value) => this.setNumber(name, value),
    });
    by("ws-stage").classList.add("ws-has-photo");
    this.showPhoto("photo");
  }

  get photo() {
    return this.placing.photo;
  }

  // Lays the picture under the plan.
  lay(photo) {
    const { stage } = this.desk;
    const image = stage.node("image", {
      href: photo.address,
      width: photo.width_px,
      height: photo.height_px,
      preserveAspectRatio: "none",
    });
    stage.layer("ws-photo").append(image);
    return image;
  }

  // --- changes ---

  setPoint(name, at) {
    this.placing.setPoint(name, at);
    this.changed();
  }

  turnBy(degrees) {
    this.placing.turnBy(degrees);
    this.changed();
  }

  level() {
    if (!this.placing.hasTwoPoints) return;
    this.placing.level();
    this.changed();
  }

  setNumber(name, value) {
    const { placing, photo } = this;
    if (name === "distance_mm" && value !== null && !placing.hasTwoPoints) {
      by("ws-photo-wrong").textContent =
        "Between the two points: tap two known points on the photo first, well apart.";
      return;
    }
    if (name === "distance_mm") {
      placing.keeping(photo.a.length ? photo.a : placing.middle, { distance_mm: value });
    } else photo[name] = name === "opacity" ? Math.round(value * 1000) / 1000 : value;
    this.changed();
  }

  changed() {
    this.steps.keep(this.photo);
    this.store();
  }

  // Lays the photo as it lay a step before, or after.
  putBack(place) {
    Object.assign(this.photo, place);
    this.arm(null);
    this.chosen = null;
    this.store();
  }

  store() {
    this.desk.showSteps();
    this.showPhoto("photo");
    this.saver.soon();
  }

  takeTheirs(theirs) {
    this.placing.photo = theirs;
    this.steps.forget(theirs);
    this.desk.showSteps();
    this.image.setAttribute("href", theirs.address);
    this.showPhoto("theirs");
  }

  // --- pointer and keys ---

  down(at) {
    return takeHold(this, at);
  }

  tapAway() {
    this.choose(null);
  }

  tap(at) {
    const name = this.tapping;
    this.setPoint(name, at);
    this.choose(name);
    if (name === "a") return this.arm("b");
    this.arm(null);
    by("ws-photo-distance_mm").focus();
    this.desk.tell("Two points are set. Type the distance between them.");
  }

  arm(name) {
    this.tapping = name;
    by("ws-photo-tap").setAttribute("aria-pressed", String(Boolean(name)));
    by("ws-stage").classList.toggle("ws-drawing", Boolean(name));
    this.words();
  }

  choose(name) {
    this.chosen = name;
    if (name) {
      const at = this.placing.onRoof(this.photo[name]);
      const [x, y] = [at.x, at.y].map((mm) => show(mm, this.desk.start.units));
      this.desk.tell(`Known point ${NUMBER[name]}: ${x} from the rear, ${y} from the right.`);
    }
    this.desk.marks();
  }

  key(event) {
    const arrow = arrowOf(event, this.desk.start.units);
    const name = letterOf(event);
    if (arrow) this.nudge(...arrow);
    else if (name === "n" || name === "p") this.nextPoint();
    else if (name === "[" || name === "]") this.turnBy(name === "[" ? 0.5 : -0.5);
    else if (name === "Escape") {
      this.arm(null);
      this.choose(null);
    } else return this.desk.viewKey(event);
    return true;
  }

  nudge(x, y) {
    const { placing, photo, chosen } = this;
    if (chosen) {
      const at = placing.onRoof(photo[chosen]);
      this.setPoint(chosen, { x: at.x + x, y: at.y + y });
    } else {
      placing.moveTo(photo.x_mm + x, photo.y_mm + y);
      this.changed();
    }
  }

  // Takes the first or the other known point; sets it a little off the middle where there is none yet.
  nextPoint() {
    const { placing, photo } = this;
    const name = this.chosen === "a" ? "b" : "a";
    if (!photo[name].length) {
      const [x, y] = placing.middle;
      this.setPoint(name, placing.onRoof([x + (name === "a" ? -0.2 : 0.2) * photo.width_px, y]));
    }
    this.choose(name);
  }

  // --- showing ---

  // Draws the photo and writes its numbers; what was typed wrong stays while ``owner`` is the same.
  showPhoto(owner) {
    this.draw();
    this.words();
    this.numbers.show(owner, this.photo);
  }

  draw() {
    const { photo, image, placing, desk } = this;
    const [x, y] = placing.middle;
    image.setAttribute(
      "transform",
      `translate(${photo.x_mm} ${desk.stage.roofWidth - photo.y_mm}) rotate(${-photo.turn_deg}) ` +
        `scale(${placing.scale}) translate(${-x} ${-y})`,
    );
    image.setAttribute("opacity", String(photo.opacity));
    desk.marks();
  }

  words() {
    const { photo, placing, tapping, desk } = this;
    const scaled = placing.isScaled
      ? `Scaled: the two points are ${show(photo.distance_mm, desk.start.units)} apart.`
      : "Not scaled yet: tap two points whose distance you know, then type it. Until then the " +
        "photo is as long as the roof.";
    by("ws-photo-how").textContent = tapping ? `Tap known point ${NUMBER[tapping]} on the photo.` : scaled;
  }

  marks() {
    return pointMarks(this.desk, this.placing, this.chosen, this.held);
  }

  activate(isOn) {
    if (!isOn) this.arm(null);
  }
}
