// On the shop's own pages: signing out clears what this tablet keeps of customers, and asks twice while work
// waits. "Take along" downloads a whole job on the tablet and opens it there. What a press needs is fetched
// at the press: this stands on every page.
const hasTablet = async (name) =>
  !indexedDB.databases || (await indexedDB.databases()).some((one) => one.name === name);

for (const form of document.querySelectorAll("form[data-sign-out]")) {
  form.addEventListener("submit", async (event) => {
    if (form.dataset.ready) return;
    event.preventDefault();
    const [{ NAME, forgetPersonal }, { mayLeave }] = await Promise.all([
      import("./db.js"),
      import("./leave.js"),
    ]);
    if (await hasTablet(NAME)) {
      if (!(await mayLeave({ isQuiet: true }))) return;
      await forgetPersonal();
    }
    form.dataset.ready = "yes";
    form.requestSubmit();
  });
}

for (const button of document.querySelectorAll("[data-take-along]")) {
  button.hidden = !("serviceWorker" in navigator); // only where a page can be kept: HTTPS or localhost
  button.addEventListener("click", async () => {
    const state = button.querySelector("[role=status]");
    button.disabled = true;
    state.textContent = " Taking …";
    try {
      const { downloadJob } = await import("./download.js");
      await downloadJob(Number(button.dataset.takeAlong));
      location.assign(`${button.dataset.shell}#/job/${button.dataset.takeAlong}`);
    } catch (problem) {
      state.textContent = ` Not taken: ${problem.message || "no network"}`;
      button.disabled = false;
    }
  });
}
