// Moves a booking by dragging its card to another day or bay: its own form does it, as by hand.
const { Sortable } = window;

function dropped({ item, from, to }) {
  const form = item.querySelector("form.move-form");
  const day = to.dataset.day;
  const bay = to.closest("tr").dataset.bay;
  if (to === from || !form) return;
  form.elements.bay.value = bay;
  if (form.elements.bay.value !== bay) {
    from.append(item); // a bay that takes no more work
    return;
  }
  form.elements.starts_on.value = day;
  form.requestSubmit();
}

for (const cell of document.querySelectorAll("[data-bay] td[data-day]")) {
  Sortable.create(cell, {
    group: "bookings",
    sort: false,
    draggable: ".can-drag",
    filter: "a, summary, form",
    preventOnFilter: false,
    delay: 250, // a finger that scrolls moves nothing
    delayOnTouchOnly: true,
    ghostClass: "is-dragged",
    onEnd: dropped,
  });
}
for (const form of document.querySelectorAll("[data-booking] form.move-form")) {
  form.closest("[data-booking]").classList.add("can-drag");
}
