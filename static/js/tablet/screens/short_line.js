// For the job's home: how many lines of its parts are missing.
import { h, icon } from "../dom.js";
import { interpolate, ngettext } from "../language.js";
import { loadsOf } from "../rules/loads.js";

export function shortLine(view) {
  const count = loadsOf(view.jobEvents).shortages.length;
  if (!count) return "";
  return h(
    "a",
    { class: "notice notice-warning notice-link", href: `#/job/${view.pk}/load` },
    icon("box-seam"),
    interpolate(
      ngettext(" {count} line of the parts missing", " {count} lines of the parts missing", count),
      { count },
    ),
  );
}
