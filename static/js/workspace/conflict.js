// Two people on one revision: shows what differs and asks whose roof stays.

import { by, element } from "./dom.js";
import { showState } from "./side.js";

const SAME = "Their roof is the same as yours; something else of the revision changed.";

// ``settled`` is called when the person has chosen.
export function askWhoseStays(got, store, settled) {
  showState("held");
  const differences = got.differences.length ? got.differences : [SAME];
  by("ws-differences").replaceChildren(...differences.map((words) => element("li", words)));
  by("ws-conflict").hidden = false;
  by("ws-conflict").focus();
  const done = () => {
    by("ws-conflict").hidden = true;
    settled();
    by("ws-stage").focus();
  };
  by("ws-keep-mine").onclick = () => {
    store.seen = got.edit_count;
    store.keep();
    done();
  };
  by("ws-take-theirs").onclick = () => {
    store.takeTheirs(got.theirs, got.edit_count);
    done();
    if (!store.isDirty) showState("saved");
  };
}
