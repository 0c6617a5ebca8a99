// Which panels an answer blocks.

export function wrongPanels(answer) {
  const blocks = (answer?.rules ?? []).filter((rule) => rule.verdict === "block");
  return new Set(blocks.flatMap((rule) => rule.panels));
}
