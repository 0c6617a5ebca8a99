// Adds another row to a table of rows: copies the blank one and counts it. Without script a blank row is
// there already. And hides fields that only some choices have, as long as nothing stands in them.

for (const field of document.querySelectorAll("[data-only-for]")) {
  const choice = field.form?.elements.namedItem(field.dataset.onlyWith);
  const box = document.getElementById(`div_${field.id}`);
  if (!choice || !box) continue;
  const keys = field.dataset.onlyFor.split(" ");
  const show = () => {
    box.hidden = !field.value && !keys.includes(choice.value);
  };
  choice.addEventListener("change", show);
  show();
}

for (const area of document.querySelectorAll("[data-add]")) {
  const name = area.dataset.add;
  const rows = document.querySelector(`[data-rows="${name}"]`);
  const blank = document.querySelector(`template[data-blank="${name}"]`);
  const total = document.querySelector(`[name="${name}-TOTAL_FORMS"]`);
  if (!rows || !blank || !total) continue;
  area.hidden = false;
  area.querySelector("button").addEventListener("click", () => {
    const number = Number(total.value);
    const holder = document.createElement("div");
    holder.innerHTML = blank.innerHTML.replaceAll("__prefix__", String(number));
    const row = holder.firstElementChild;
    rows.append(row);
    total.value = String(number + 1);
    row.querySelector("select, input:not([type=hidden])")?.focus();
  });
}
