// Whom to call, help first, and what to keep in mind on this job. Every number is one tap, also offline.
import { h, icon } from "../dom.js";
import { jobHead, lines } from "./parts.js";

const GROUPS = [
  ["people", "The shop's people"],
  ["shop", "The shop"],
  ["customer", "The customer"],
  ["makers", "Makers' support lines"],
];

export function contacts(view) {
  const { job, contacts: people, texts, emergency = "911" } = view.job;
  return h(
    "div",
    {},
    jobHead(view, "Whom to call"),
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
      h("h2", {}, "The job"),
      h("p", {}, job.asked_for || job.title),
      job.place ? h("p", {}, icon("geo-alt"), ` ${job.place}`) : "",
      h("p", {}, `Plate ${job.plate || "–"} · VIN ends ${job.vin_tail || "–"}`),
    ),
    h("section", { class: "safety" }, h("h2", {}, "Cautions"), lines(texts.cautions)),
    h(
      "section",
      { class: "sheet" },
      h("h2", {}, "Switch off in this order"),
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
    h("h2", {}, "Someone hurt, smoke, fire or gas"),
    h("p", {}, "Everyone out and away first. Then call. Nobody goes back in for equipment."),
    call(number, `Call ${number}`, "btn btn-primary btn-tall"),
    place ? h("p", {}, icon("geo-alt"), ` Tell them where: ${place}.`) : "",
    shop ? h("p", { class: "pre" }, `The shop is at ${shop}`) : "",
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
          one.phone ? call(one.phone, one.phone) : h("span", {}, ", no phone number kept"),
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
