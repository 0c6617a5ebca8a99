// What a device says it is until a person gives it a name: by its touch points where the browser hides the
// rest.
const SYSTEMS = [
  ["Android", /Android/],
  ["Chromebook", /CrOS/],
  ["Windows", /Windows/],
  ["Mac", /Macintosh/],
  ["Linux", /Linux|X11/],
];

export function deviceKind({ userAgent = "", maxTouchPoints = 0 }) {
  if (/iPad/.test(userAgent)) return "iPad";
  if (/iPhone|iPod/.test(userAgent)) return "iPhone";
  const system = SYSTEMS.find(([, sign]) => sign.test(userAgent))?.[0] ?? "";
  if (system === "Mac") return maxTouchPoints > 1 ? "iPad" : "Mac"; // no Mac has a touch screen
  if (system === "Chromebook") return system;
  if (system === "Android") return /Mobile/.test(userAgent) ? "Android phone" : "Android tablet";
  const shape = maxTouchPoints > 0 ? "tablet" : "computer";
  return system ? `${system} ${shape}` : shape[0].toUpperCase() + shape.slice(1);
}
