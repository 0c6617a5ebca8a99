// Signing out: nothing of any customer stays on the tablet; with unsent work it asks twice and says what is
// lost.
import { ask, Offline } from "./ask.js";
import { forgetPersonal, metaGet, metaPut, unsentCount } from "./db.js";
import { gettext, interpolate, ngettext } from "./language.js";
import { announce } from "./news.js";
import { choose } from "./screens/choose.js";

const urls = JSON.parse(document.body.dataset.urls ?? "{}"); // only the shell carries them

// Resolves to whether the person really wants to go.
export async function mayLeave({ isQuiet = false } = {}) {
  const unsent = await unsentCount();
  if (!unsent && isQuiet) return true;
  if (!unsent)
    return choose(gettext("Sign out? The jobs on this tablet are removed from it."), {
      yes: gettext("Sign out"),
      no: gettext("Stay"),
    });
  const first = await choose(
    interpolate(
      ngettext(
        "{unsent} thing is not sent yet. Signing out removes them from this tablet for good.",
        "{unsent} things are not sent yet. Signing out removes them from this tablet for good.",
        unsent,
      ),
      { unsent },
    ),
    { yes: gettext("Go on"), no: gettext("Stay signed in") },
  );
  return (
    first &&
    choose(
      interpolate(
        ngettext(
          "Really lose {unsent} unsent record? Nobody can bring them back.",
          "Really lose {unsent} unsent records? Nobody can bring them back.",
          unsent,
        ),
        { unsent },
      ),
      { yes: gettext("Lose them and sign out"), no: gettext("Stay signed in") },
    )
  );
}

export async function leave() {
  if (!(await mayLeave())) return;
  await forgetPersonal();
  await metaPut("leave_when_online", true);
  await finishLeaving();
  location.hash = "#/";
  announce({ kind: "merged" });
}

// Ends the session so that a password is asked for; everything on the tablet stays. False without a network.
export async function endSession() {
  await metaPut("leave_when_online", true);
  await finishLeaving();
  const isOver = !(await metaGet("leave_when_online"));
  if (!isOver) await metaPut("leave_when_online", false);
  return isOver;
}

// Ends the session itself; without a network that happens the next time there is one.
export async function finishLeaving() {
  if (!(await metaGet("leave_when_online"))) return;
  try {
    const hello = await ask(urls.hello);
    await ask(urls.sign_out, {
      method: "POST",
      csrf: hello.data.csrf,
      headers: { "Content-Type": "application/x-www-form-urlencoded" },
      body: new Blob([""]),
    }).catch(() => {});
  } catch (problem) {
    if (problem instanceof Offline) return;
  }
  await metaPut("leave_when_online", false);
}
