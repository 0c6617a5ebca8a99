// Says texts of steps and sentences of the rules in other words: whole where they are known, else by the form
// they are made of, part by part. The same as checklists/texts/sentences.py; nothing is decided by it.

const SAID_AGAIN = new Set(["field", "line", "step", "what", "title", "head", "tail"]);
const CODE = "[A-Z]\\d+[a-z]?";
const escaped = (text) => text.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");

// "{field}: missing" → what finds it, its parts named.
function formOf([text, said]) {
  const source = escaped(text).replace(
    /\\\{(\w+)\\\}/g,
    (_, name) => `(?<${name}>${name === "code" ? CODE : "[\\s\\S]+?"})`,
  );
  return { text, said, finds: new RegExp(`^${source}$`) };
}

export const asWritten = (text) => text;

// Returns say(text): ``texts`` is English → what is shown, ``sentences`` the forms in their order.
export function saidAs(texts, sentences = []) {
  const known = new Map(Object.entries(texts));
  const open = [...known].filter(([text]) => /\{\w+\}/.test(text));
  if (!known.size && !sentences.length) return asWritten;
  const forms = [...open, ...sentences].map(formOf);
  const answers = new Map();
  const say = (text) => {
    if (typeof text !== "string" || !text) return text;
    if (!answers.has(text)) answers.set(text, known.get(text) ?? byForm(text, forms, say));
    return answers.get(text);
  };
  return say;
}

function byForm(sentence, forms, say) {
  for (const { text, said, finds } of forms) {
    const words = finds.exec(sentence)?.groups;
    if (!words) continue;
    const parts = Object.entries(words).map(([name, part]) => [
      name,
      SAID_AGAIN.has(name) ? say(part) : part,
    ]);
    const isOther = said !== text || parts.some(([name, part]) => part !== words[name]);
    if (isOther) return parts.reduce((whole, [name, part]) => whole.replaceAll(`{${name}}`, part), said);
  }
  return sentence;
}
