// Empties the queue: one tab at a time, everything as often as it takes, each row gone only when the server
// names it.
import { Offline, SignedOut, UpdateNeeded } from "../ask.js";
import { database } from "../db.js";
import { listen } from "../news.js";
import { greet } from "./hello.js";
import { sendJob } from "./job.js";
import { setLink, setWho } from "./link.js";
import { fetchOthers } from "./others.js";
import { Trouble } from "./parallel.js";

const LONGEST_WAIT_MS = 60_000;
const LOOK_AGAIN_MS = 60_000; // what others recorded, what the office decided

let running = false;
let again = false;
let failures = 0;
let timer;

export function startSending() {
  for (const name of ["online", "pageshow"]) addEventListener(name, () => send());
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) send();
  });
  addEventListener("offline", () => setLink("offline"));
  setInterval(() => {
    if (!document.hidden && navigator.onLine) send();
  }, LOOK_AGAIN_MS);
  listen((news, isHere) => {
    if (isHere && news.kind === "recorded") send();
  });
  return send();
}

// Tries to send what waits; ``force`` forgets how long the last failure asked to wait.
export async function send({ force = false } = {}) {
  if (force) failures = 0;
  if (running) {
    again = true;
    return;
  }
  running = true;
  clearTimeout(timer);
  try {
    do {
      again = false;
      await navigator.locks.request("coachlight-outbox", { ifAvailable: true }, async (lock) => {
        if (lock) await pass();
        else later(3000); // another tab is at it: look again when it is through
      });
    } while (again && failures === 0);
  } finally {
    running = false;
  }
}

function later(wait) {
  clearTimeout(timer);
  timer = setTimeout(() => send(), wait);
}

async function pass() {
  try {
    if (await hasRows()) setLink("sending");
    const hello = await greet();
    const strangers = await sendAll(hello);
    await fetchOthers();
    failures = 0;
    setLink(strangers ? "other-person" : "idle", strangers);
  } catch (problem) {
    failures += 1;
    fail(problem);
  }
}

function fail(problem) {
  setWho(problem instanceof SignedOut ? "nobody" : "silent");
  if (problem instanceof SignedOut) return setLink("signed-out");
  if (problem instanceof UpdateNeeded) return setLink("update", problem.message);
  later(Math.min(LONGEST_WAIT_MS, 2000 * 2 ** Math.min(failures, 5)) * (0.8 + 0.4 * Math.random()));
  if (problem instanceof Offline) return setLink("offline");
  return setLink("trouble", problem.message);
}

async function hasRows() {
  return (await (await database()).count("outbox")) > 0;
}

// Sends all that belongs to the person signed in; resolves to the name of somebody whose work has to wait.
async function sendAll(hello) {
  const rows = await (await database()).getAll("outbox");
  const own = (row) => row.person === hello.person.id || row.person === null;
  const jobs = [...new Set(rows.filter((row) => own(row) && !row.state).map((row) => row.job))];
  const trouble = new Trouble();
  const round = { hello, own, trouble, isMoreWaiting: () => again };
  for (const job of jobs) await trouble.around(() => sendJob(job, round));
  trouble.raise();
  return rows.find((row) => !own(row))?.person_name ?? "";
}
