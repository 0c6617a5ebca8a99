// Opens the right view for the address, draws it again when something changed, and keeps the queue moving.
import { h, put } from "./dom.js";
import { watchIdle } from "./idle.js";
import { openJob } from "./job.js";
import { gettext, interpolate } from "./language.js";
import { finishLeaving } from "./leave.js";
import { listen } from "./news.js";
import { released } from "./pressed.js";
import { contacts } from "./screens/contacts.js";
import { handOver } from "./screens/hand_over.js";
import { home } from "./screens/home.js";
import { hours } from "./screens/hours.js";
import { load } from "./screens/load.js";
import { oneLine } from "./screens/one_line.js";
import { phases } from "./screens/phases.js";
import { openIfHeld } from "./screens/pin_lock.js";
import { plan } from "./screens/plan.js";
import { queue } from "./screens/queue.js";
import { schedule } from "./screens/schedule.js";
import { seals } from "./screens/seals.js";
import { row, step } from "./screens/step.js";
import { urls } from "./sending/link.js";
import { startSending } from "./sending/send.js";
import { drawBar } from "./status.js";
import { putOn } from "./theme.js";
import { isUnfinished, watchTyping } from "./unfinished.js";
import { wetLockAgain } from "./wetlock.js";

const JOB_VIEWS = {
  "": phases,
  step,
  row,
  plan,
  "one-line": oneLine,
  seals,
  circuits: schedule,
  contacts,
  hours,
  load,
  "hand-over": handOver,
};

let turn = 0;
let shownAt;

async function view() {
  const [, area = "", pk = "", name = "", part = ""] = location.hash.split("/");
  if (area === "queue") return queue();
  if (area !== "job") return home();
  const found = await openJob(Number(pk));
  if (!found)
    return h(
      "div",
      {},
      h("h1", { tabindex: "-1" }, gettext("This job is not on the tablet")),
      h("p", {}, gettext("Take it along while you have a network.")),
      h("a", { class: "btn btn-primary", href: "#/" }, gettext("All jobs")),
    );
  return (JOB_VIEWS[name] ?? phases)(found, part);
}

// A person who records or goes somewhere is owed a new view: news that come meanwhile do not put it off.
let isOwed = true;
const isBusy = () => !isOwed && document.querySelector("dialog[open]:not(.wet-lock)") !== null;
const isWriting = (page) => !isOwed && isUnfinished(page);

// Draws the view; of two that are under way only the later one is shown.
export async function draw({ isNews = false } = {}) {
  isOwed ||= !isNews;
  if (isBusy()) return; // somebody is typing a number
  const mine = ++turn;
  const address = location.hash;
  const element = await view();
  await released();
  if (mine !== turn) return;
  const page = document.getElementById("page");
  const isSame = address === shownAt;
  if (isSame && (isBusy() || isWriting(page))) return;
  isOwed = false;
  const kept = isSame ? { y: scrollY, key: document.activeElement?.dataset?.key } : null;
  page.replaceChildren(element);
  shownAt = document.body.dataset.shown = address;
  document.title = `${page.querySelector("h1")?.textContent ?? gettext("Roof tablet")} · Coachlight`;
  restore(page, kept);
}

function restore(page, kept) {
  if (!kept) {
    scrollTo(0, 0);
    page.querySelector("h1")?.focus({ preventScroll: true });
    return;
  }
  scrollTo(0, kept.y);
  if (kept.key) page.querySelector(`[data-key="${CSS.escape(kept.key)}"]`)?.focus({ preventScroll: true });
}

function trouble(problem) {
  console.error(problem);
  put(
    document.getElementById("page"),
    h(
      "p",
      { class: "notice notice-error", role: "alert" },
      interpolate(
        gettext(
          "Something went wrong on this tablet: {message}. What is saved stays saved; open the page again.",
        ),
        { message: problem.message },
      ),
    ),
  );
}

// A stream of news is shown twice a second, not put off until it ends.
let isWaiting = false;
function redraw() {
  if (isWaiting) return;
  isWaiting = true;
  setTimeout(() => {
    isWaiting = false;
    drawBar().catch(trouble);
    draw({ isNews: true }).catch(trouble);
  }, 500);
}

listen((news, isHere) => {
  if (news.kind === "person") openIfHeld();
  if (news.kind === "link" || (news.kind === "recorded" && isHere)) drawBar().catch(trouble);
  else redraw();
});
addEventListener("hashchange", () => draw().catch(trouble));
addEventListener("unhandledrejection", (event) => trouble(event.reason));

putOn();
document.querySelector(".skip").textContent = gettext("Skip to the page");
watchTyping(document.getElementById("page"));
await drawBar();
await draw();
await watchIdle();
wetLockAgain();
performance.mark("tablet-ready");
if ("serviceWorker" in navigator)
  navigator.serviceWorker.register(urls.worker, { scope: "/" }).catch(() => {});
finishLeaving();
startSending();
