// Whom to call, and what to keep in mind on this job.
import { h, icon } from "../dom.js";
import { jobHead, lines } from "./parts.js";

export function contacts(view) {
  const { job, contacts: people, texts } = view.job;
  return h(
    "div",
    {},
    jobHead(view, "People and cautions"),
    h(
      "section",
      { class: "sheet" },
      h("h2", {}, "The job"),
      h("p", {}, job.asked_for || job.title),
      job.place ? h("p", {}, icon("geo-alt"), ` ${job.place}`) : "",
      h("p", {}, `Plate ${job.plate || "–"} · VIN ends ${job.vin_tail || "–"}`),
    ),
    h(
      "section",
      { class: "sheet" },
      h("h2", {}, "People"),
      h(
        "ul",
        { class: "link-list" },
        people.map((one) =>
          h(
            "li",
            { class: "person" },
            h("strong", {}, one.who),
            `, ${one.part}`,
            one.phone
              ? h(
                  "a",
                  { href: `tel:${one.phone.replace(/[^\d+]/g, "")}` },
                  icon("telephone"),
                  ` ${one.phone}`,
                )
              : "",
            one.email ? h("a", { href: `mailto:${one.email}` }, one.email) : "",
            one.address ? h("span", { class: "pre" }, one.address) : "",
          ),
        ),
      ),
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
