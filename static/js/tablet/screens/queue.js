// What waits on this tablet: not sent, set aside, and why; a button to try now.
import { database } from "../db.js";
import { dayClock, h, icon } from "../dom.js";
import { openJob } from "../job.js";
import { jobEventWords } from "../job_words.js";
import { gettext, interpolate } from "../language.js";
import { link, urls } from "../sending/link.js";
import { counts, lastSent, sentence, tryNow } from "../status.js";

const LINK = {
  idle: "",
  sending: gettext("Sending now."),
  offline: gettext(
    "No answer from the shop's server: everything below is saved on this tablet and is sent by itself.",
  ),
  "signed-out": gettext("You are signed out. Your work is kept; sign in again and it is sent."),
  update: gettext(
    "This app is too old for the shop's server. Your work is kept: open the app while online " +
      "so that it updates itself.",
  ),
};

export async function queue() {
  const db = await database();
  const [rows, found, last] = await Promise.all([db.getAll("outbox"), counts(), lastSent()]);
  const views = new Map();
  for (const row of rows) if (!views.has(row.job)) views.set(row.job, await openJob(row.job));
  const waiting = rows.filter((row) => !row.state);
  const aside = rows.filter((row) => row.state);
  return h(
    "div",
    {},
    h("h1", { tabindex: "-1" }, gettext("What waits on this tablet")),
    h(
      "section",
      { class: "sheet" },
      h(
        "p",
        { class: "queue-now" },
        icon(found.unsent ? "clock-history" : "check-lg"),
        ` ${sentence(found) || gettext("Nothing waits to be sent.")}`,
      ),
      last
        ? h("p", {}, interpolate(gettext("Last time something was sent: {when}."), { when: dayClock(last) }))
        : "",
      linkWords(),
      h(
        "div",
        { class: "step-end" },
        h(
          "button",
          { class: "btn btn-primary btn-tall", type: "button", onclick: tryNow },
          icon("send"),
          gettext(" Send now"),
        ),
        link.state === "signed-out"
          ? h(
              "a",
              {
                class: "btn btn-secondary btn-tall",
                href: `${urls.sign_in}?next=${encodeURIComponent(`/tablet/${location.hash}`)}`,
              },
              icon("person"),
              gettext(" Sign in again"),
            )
          : "",
      ),
    ),
    aside.length
      ? h(
          "section",
          { class: "sheet" },
          h("h2", {}, gettext("Set aside")),
          h("p", {}, gettext("The server could not take these. They are kept here: show them to the owner.")),
          h(
            "ul",
            { class: "queue" },
            aside.map((row) => line(row, views)),
          ),
        )
      : "",
    waiting.length
      ? h(
          "section",
          { class: "sheet" },
          h("h2", {}, gettext("Not sent")),
          h(
            "ul",
            { class: "queue" },
            waiting.map((row) => line(row, views)),
          ),
        )
      : "",
  );
}

function linkWords() {
  const words =
    link.state === "other-person"
      ? interpolate(gettext("{words} recorded some of this and has to sign in to send it."), {
          words: link.words,
        })
      : link.state === "trouble"
        ? interpolate(gettext("The last try failed: {words}. It is tried again."), { words: link.words })
        : LINK[link.state];
  return [
    words ? h("p", {}, words) : "",
    link.isRevoked
      ? h(
          "p",
          {},
          icon("flag"),
          gettext(" The owner has revoked this tablet: what it sends is held for review, nothing is lost."),
        )
      : "",
  ];
}

function line(row, views) {
  const view = views.get(row.job);
  const event = view?.events.get(row.id);
  const step = event && view.stepByPk.get(event.step);
  const spec = step && view.fields(step).find((one) => one.name === event.field);
  const what =
    row.kind === "signature"
      ? gettext("Signature of the customer")
      : event && !event.step
        ? jobEventWords(view, event)
        : event?.verb === "undo"
          ? gettext("Removed")
          : event?.verb === "note"
            ? interpolate(gettext("Note: {value}"), { value: event.value })
            : `${spec?.label ?? event?.field ?? ""}: ${event ? view.say(spec, event) : ""}`;
  return h(
    "li",
    {},
    h("strong", {}, step ? `${step.code} ` : "", what),
    h("span", {}, ` ${view?.job.job.number ?? ""} · ${dayClock(row.at)} · ${row.person_name}`),
    row.why ? h("p", { class: "field-says" }, icon("x-octagon"), ` ${row.why}`) : "",
  );
}
