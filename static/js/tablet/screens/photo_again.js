// One picture for several fields: the photos of this job that stand elsewhere and lie on this tablet, one tap
// to let one of them stand here too. It stays one picture: sent once, printed once.
import { database } from "../db.js";
import { h, icon, tell } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { recordPhotoAgain } from "../record.js";
import { thumb } from "./thumbs.js";

// A button where there is any photo to choose; ``keep`` is how a field records: (control, work, words).
export function photoAgain(view, step, spec, keep) {
  if (!elsewhere(view, step, spec).length) return "";
  const open = ({ currentTarget }) =>
    choosePhoto(view, step, spec, (event) =>
      keep(
        currentTarget,
        () => recordPhotoAgain(view, step, spec, event),
        interpolate(gettext("{label}: photo saved here"), { label: spec.label }),
      ),
    );
  return h(
    "button",
    {
      class: "btn btn-secondary photo-again",
      type: "button",
      "aria-label": interpolate(gettext("Use a photo already taken: {label}"), { label: spec.label }),
      onclick: open,
    },
    icon("images"),
    gettext(" Use a photo already taken"),
  );
}

// [{ event, words }]: each photo of the job that stands somewhere else but not here, the newest first.
export function elsewhere(view, step, spec) {
  const here = new Set(view.state(step).fields[spec.name]?.photos ?? []);
  const found = new Map();
  for (const other of view.inScope)
    for (const one of view.fields(other))
      for (const event of view.state(other).fields[one.name]?.standing ?? []) {
        if (!event.photo || here.has(event.photo)) continue;
        const row = found.get(event.photo) ?? { event, words: [] };
        row.words.push(`${other.code} ${one.label}`);
        found.set(event.photo, row);
      }
  const when = ({ event }) => event.done_at ?? event.at ?? event.received_at ?? "";
  return [...found.values()].sort((one, other) => (when(one) < when(other) ? 1 : -1));
}

async function choosePhoto(view, step, spec, use) {
  const rows = await onThisTablet(elsewhere(view, step, spec));
  if (!rows.length) return tell(gettext("None of the job's photos is on this tablet."));
  const shut = () => dialog.close();
  const dialog = h(
    "dialog",
    {
      class: "pad-view photo-choice",
      "aria-label": interpolate(gettext("A photo for {label}"), { label: spec.label }),
    },
    h(
      "div",
      { class: "pad-head" },
      h("h2", {}, interpolate(gettext("A photo for: {label}"), { label: spec.label })),
      h("button", { class: "btn btn-secondary", type: "button", onclick: shut }, gettext("Close")),
    ),
    h(
      "ul",
      { class: "photos" },
      rows.map(({ event, words }) =>
        h(
          "li",
          {},
          h(
            "button",
            {
              class: "photo-pick",
              type: "button",
              onclick: () => {
                shut();
                use(event);
              },
            },
            thumb(event, ""),
            h("span", {}, words.join(" · ")),
          ),
        ),
      ),
    ),
  );
  const where = location.hash;
  const onTurn = () => location.hash !== where && shut();
  addEventListener("hashchange", onTurn);
  dialog.addEventListener("close", () => {
    removeEventListener("hashchange", onTurn);
    dialog.remove();
  });
  document.body.append(dialog);
  dialog.showModal();
}

// Those whose small picture is here and that the server did not refuse.
async function onThisTablet(rows) {
  const tx = (await database()).transaction(["thumbs", "uploads"]);
  const kept = await Promise.all(
    rows.map(async ({ event }) => {
      const [own, sent, upload] = await Promise.all([
        tx.objectStore("thumbs").get(event.photo),
        event.upload ? tx.objectStore("thumbs").get(event.upload) : undefined,
        event.upload ? tx.objectStore("uploads").get(event.upload) : undefined,
      ]);
      return (own ?? sent) && upload?.state !== "bad";
    }),
  );
  return rows.filter((_, place) => kept[place]);
}
