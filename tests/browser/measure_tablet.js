// Returns every control that is too small, every text that is too small or too pale. Run in the page; the least
// contrast seen and the colors that are neither black nor white are left in window.measured.
() => {
  const found = [];
  const measured = { least: 21, words: "", greys: new Set() };
  window.measured = measured;
  const note = (colour) => {
    const [red, green, blue, alpha = 1] = numbers(colour);
    const isPlain =
      [red, green, blue].every((part) => part === 0) || [red, green, blue].every((part) => part === 255);
    if (alpha > 0.01 && !(isPlain && alpha > 0.99)) measured.greys.add(colour);
  };
  const seen = new Set();
  const isShown = (element) => {
    const box = element.getBoundingClientRect();
    const style = getComputedStyle(element);
    return box.width > 1 && box.height > 1 && box.right > 0 && style.visibility !== "hidden";
  };
  const numbers = (colour) => colour.match(/[\d.]+/g).map(Number);
  const ground = (element) => {
    for (let each = element; each; each = each.parentElement) {
      const colour = numbers(getComputedStyle(each).backgroundColor);
      if (colour.length < 4 || colour[3] > 0.99) return colour.slice(0, 3);
    }
    return [255, 255, 255];
  };
  const luminance = (colour) => {
    const [red, green, blue] = colour.slice(0, 3).map((part) => {
      const share = part / 255;
      return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue;
  };
  const words = (element) => (element.textContent || element.name || "").trim().slice(0, 40);

  const controls =
    "a, button, input:not([type=hidden]), select, textarea, summary, label.choice, label.camera";
  for (const element of document.querySelectorAll(controls)) {
    const isInner = element.matches("label input");
    if (!isShown(element) || element.matches(".skip") || isInner) continue;
    const least = element.matches("button.tick") ? 96 : 56;
    const height = element.getBoundingClientRect().height;
    if (height < least - 0.5) found.push(["too low", words(element), Math.round(height)]);
  }
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const element = walker.currentNode.parentElement;
    if (!walker.currentNode.textContent.trim() || !isShown(element)) continue;
    if (element.closest("svg, script, style, .visually-hidden, .skip")) continue;
    const style = getComputedStyle(element);
    const back = ground(element);
    const key = [element.tagName, element.className, style.fontSize, style.color, back].join();
    if (seen.has(key)) continue;
    seen.add(key);
    const [one, other] = [luminance(numbers(style.color)), luminance(back)];
    const contrast = (Math.max(one, other) + 0.05) / (Math.min(one, other) + 0.05);
    if (contrast < measured.least) [measured.least, measured.words] = [contrast, words(element)];
    for (const each of [style.color, style.backgroundColor]) note(each);
    if (parseFloat(style.fontSize) < 19.9) found.push(["text too small", words(element), style.fontSize]);
    if (contrast < 12) found.push(["too pale", words(element), contrast.toFixed(1)]);
  }
  measured.greys = [...measured.greys];
  return found;
};
