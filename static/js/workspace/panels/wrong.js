// Which panels an answer blocks. The numbers are read out of its sentences, in this one place only.

export function wrongPanels(answer) {
  const wrong = new Set();
  for (const rule of answer?.rules ?? []) {
    const sentence = rule.verdict === "block" ? `${rule.subject} ${rule.sentence}` : "";
    for (const found of sentence.matchAll(/panel[: ](\d+)/gi)) wrong.add(Number(found[1]));
  }
  return wrong;
}
