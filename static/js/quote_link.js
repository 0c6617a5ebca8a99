// Copies a link that is shown once. Without script the field can be selected and copied by hand.
for (const button of document.querySelectorAll("[data-copy]")) {
  const field = document.querySelector(button.dataset.copy);
  const words = button.querySelector("span");
  button.hidden = false;
  button.addEventListener("click", async () => {
    field.select();
    try {
      await navigator.clipboard.writeText(field.value);
      words.textContent = "Copied";
    } catch {
      words.textContent = "Selected: press Ctrl+C";
    }
  });
  field.addEventListener("focus", () => field.select());
}
