// What a person began on a page and has not kept yet: news may not draw the page anew under it. A customer
// who has drawn a signature has no field in focus, and what was typed before the hand went elsewhere counts.
const MARK = "data-unfinished";

export const unfinished = (element, isSo) => element.toggleAttribute(MARK, isSo);

// Typing and ticking mark the field; a picture is kept as soon as it is chosen.
export function watchTyping(page) {
  page.addEventListener("input", ({ target }) => {
    const { type } = target;
    if (type !== "file") unfinished(target, type === "checkbox" ? target.checked : target.value !== "");
  });
}

// Also while something is being saved: it draws the page itself when it is done.
export function isUnfinished(page) {
  const inHand = document.activeElement;
  const isTyping = page.contains(inHand) && inHand.matches("input, textarea");
  return isTyping || page.querySelector(`[${MARK}], [aria-busy=true]`) !== null;
}
