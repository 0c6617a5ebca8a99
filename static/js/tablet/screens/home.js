// The jobs on this tablet, and those that can be downloaded while there is a network.
import { database } from "../db.js";
import { dayClock, h, icon } from "../dom.js";
import { downloadJob, jobsOnServer } from "../download.js";
import { openJob } from "../job.js";
import { gettext, interpolate } from "../language.js";
import { urls } from "../sending/link.js";
import { storageSpace } from "../storage.js";
import { holderSheet } from "./holder.js";
import { isDone, pagesOf } from "./pages.js";

export async function home() {
  const db = await database();
  const [rows, space, holding] = await Promise.all([db.getAll("jobs"), storageSpace(), holderSheet()]);
  const kept = await Promise.all(rows.map(card));
  const others = h("div", { class: "take-list" }, h("p", {}, gettext("Looking for jobs …")));
  fillOthers(others, new Set(rows.map((row) => row.pk)));
  return h(
    "div",
    {},
    h("h1", { tabindex: "-1" }, gettext("Jobs on this tablet")),
    kept.length
      ? h("ul", { class: "job-cards" }, kept)
      : h("p", { class: "empty" }, gettext("None yet. Take one along before you leave the network.")),
    h("section", { class: "sheet" }, h("h2", {}, gettext("Take along")), others),
    keeping(space, rows.length),
    holding,
  );
}

async function card(row) {
  const view = await openJob(row.pk);
  const pages = pagesOf(view);
  const done = pages.filter((page) => isDone(view, page)).length;
  const { job } = row.payload;
  return h(
    "li",
    {},
    h(
      "a",
      { class: "job-card", href: `#/job/${row.pk}` },
      h("strong", {}, h("span", { class: "id" }, job.number), ` ${job.title}`),
      h("span", {}, `${job.vehicle}${job.plate ? ` · ${job.plate}` : ""} · ${job.customer}`),
      h(
        "span",
        {},
        interpolate(gettext("{done} of {pages} steps done · taken {when}"), {
          done,
          pages: pages.length,
          when: dayClock(row.taken_at),
        }),
      ),
    ),
  );
}

async function fillOthers(place, here) {
  try {
    const jobs = await jobsOnServer(urls.jobs);
    place.replaceChildren(
      ...(jobs.length
        ? jobs.map((job) => offer(job, here.has(job.pk)))
        : [h("p", {}, gettext("No job of the shop is in work."))]),
    );
  } catch {
    place.replaceChildren(
      h("p", {}, gettext("No network, or not signed in: the jobs above are all there is for now.")),
    );
  }
}

function offer(job, isHere) {
  const words = h(
    "span",
    { class: "take-words" },
    h("strong", {}, h("span", { class: "id" }, job.number), ` ${job.vehicle}`),
    h("span", {}, `${job.title} · ${job.customer} · ${job.state}`),
  );
  const button = h(
    "button",
    { class: `btn ${isHere ? "btn-secondary" : "btn-primary"}`, type: "button" },
    icon("download"),
    isHere ? gettext(" Take again") : gettext(" Take along"),
  );
  const state = h("span", { class: "take-state", role: "status" });
  button.addEventListener("click", async () => {
    button.disabled = true;
    state.textContent = "Taking …";
    try {
      await downloadJob(job.pk);
      state.textContent = "On this tablet.";
    } catch (problem) {
      state.textContent = `Not taken: ${problem.message || "no network"}`;
    }
    button.disabled = false;
  });
  return h("div", { class: "take-row" }, words, button, state);
}

function keeping({ isPersistent, share }, hasJobs) {
  const words = [];
  if (share >= 0.8)
    words.push(
      interpolate(
        gettext(
          "Storage is {percent}% full: send what waits, or remove jobs that are done. Ticks and " +
            "numbers still fit.",
        ),
        { percent: Math.round(share * 100) },
      ),
    );
  if (hasJobs && !isPersistent)
    words.push(
      gettext(
        "This browser may clear its storage when the tablet runs full. Put the app on the home " +
          "screen, and send as soon as there is a network.",
      ),
    );
  return words.length
    ? h(
        "div",
        { class: "notice notice-warning" },
        words.map((text) => h("p", {}, icon("exclamation-triangle"), " ", text)),
      )
    : "";
}
