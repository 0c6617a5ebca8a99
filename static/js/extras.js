// Totals follow the extras a customer ticks: the server counts, the page shows it. Without script the button
// beside the boxes does the same with a whole page.

const form = document.getElementById("accept");
const boxes = [...document.querySelectorAll("[data-extra]")];
const button = document.querySelector("[data-recount]");
let asked = 0;

async function recount() {
  const turn = ++asked;
  const answer = await fetch(button.formAction, { method: "POST", body: new FormData(form) });
  if (!answer.ok || turn !== asked) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const fresh of page.querySelectorAll("[data-recounted]"))
    document.getElementById(fresh.id)?.replaceWith(document.adoptNode(fresh));
  const words = page.querySelector("[data-total]")?.textContent;
  for (const place of document.querySelectorAll("[data-total]")) place.textContent = words;
  const total = page.querySelector('[name="shown_total"]');
  if (total) form.elements.shown_total.value = total.value;
}

if (form && button && boxes.length) {
  button.hidden = true;
  for (const box of boxes)
    box.addEventListener("change", () => recount().catch(() => (button.hidden = false)));
}
