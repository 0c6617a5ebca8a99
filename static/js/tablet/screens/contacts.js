// Whom to call, help first, and what to keep in mind on this job. Every number is one tap, also offline.
import { h, icon } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { jobHead, lines } from "./parts.js";

const GROUPS = [
  ["people", gettext("The shop's people")],
  ["shop", gettext("The shop")],
  ["customer", gettext("The customer")],
  ["makers", gettext("Makers' support lines")],
];

export function contacts(view) {
  const { job, contacts: people, texts, emergency = "911" } = view.job;
  return h(
    "div",
    {},
    jobHead(view, gettext("Whom to call")),
    emergencyFirst(emergency, job.place, people.find((one) => one.group === "shop")?.address),
    GROUPS.map(([name, words]) =>
      group(
        words,
        people.filter((one) => (one.group ?? "people") === name),
      ),
    ),
    h(
      "section",
      { class: "sheet" },
      h("h2", {}, gettext("The job")),
      h("p", {}, job.asked_for || job.title),
      job.place ? h("p", {}, icon("geo-alt"), ` ${job.place}`) : "",
      h(
        "p",
        {},
        interpolate(gettext("Plate {plate} · VIN ends {vin_tail}"), {
          plate: job.plate || "–",
          vin_tail: job.vin_tail || "–",
        }),
      ),
    ),
    h("section", { class: "safety" }, h("h2", {}, gettext("Cautions")), lines(texts.cautions)),
    h(
      "section",
      { class: "sheet" },
      h("h2", {}, gettext("Switch off in this order")),
      h(
        "ol",
        {},
        texts.shut_down.map((words) => h("li", {}, words)),
      ),
    ),
  );
}

// People before equipment: nobody looks for a number, a colleague or a switch first.
function emergencyFirst(number, place, shop) {
  return h(
    "section",
    { class: "safety" },
    h("h2", {}, gettext("Someone hurt, smoke, fire or gas")),
    h("p", {}, gettext("Everyone out and away first. Then call. Nobody goes back in for equipment.")),
    call(number, interpolate(gettext("Call {number}"), { number }), "btn btn-primary btn-tall"),
    place ? h("p", {}, icon("geo-alt"), interpolate(gettext(" Tell them where: {place}."), { place })) : "",
    shop ? h("p", { class: "pre" }, interpolate(gettext("The shop is at {shop}"), { shop })) : "",
  );
}

function group(words, people) {
  if (!people.length) return "";
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, words),
    h(
      "ul",
      { class: "link-list" },
      people.map((one) =>
        h(
          "li",
          { class: "person" },
          h("strong", {}, one.who),
          `, ${one.part}`,
          one.phone ? call(one.phone, one.phone) : h("span", {}, gettext(", no phone number kept")),
          one.email ? h("a", { href: `mailto:${one.email}` }, one.email) : "",
          one.address ? h("span", { class: "pre" }, one.address) : "",
        ),
      ),
    ),
  );
}

const call = (number, words, style) =>
  h("a", { href: dial(number), class: style }, icon("telephone"), ` ${words}`);

// What a phone dials: digits, a plus in front, and the extension after a pause.
export function dial(number) {
  const [main, extension] = number.split(/\s*(?:ext\.?|x)\s*/i);
  const digits = main.replace(/[^\d+]/g, "");
  return `tel:${digits}${extension ? `,${extension.replace(/\D/g, "")}` : ""}`;
}
