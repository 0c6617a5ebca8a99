// Draws the clock: shadows on the plan, where sun and north are, the day's power beside what a bare roof gives.

const TEXT = (roof) => Math.max(70, roof.length / 68); // as the plan's own words, mm

export function drawShadows(stage, layer, moment, heading, roof) {
  const clip = stage.node("clipPath", { id: "ws-roof-clip" });
  clip.append(stage.node("rect", { x: 0, y: 0, width: roof.length, height: roof.width }));
  const shadows = stage.node("g", { class: "ws-shadow", "clip-path": "url(#ws-roof-clip)" });
  for (const { corners } of moment.shadows) {
    const points = [];
    for (let i = 0; i < corners.length; i += 2) points.push(`${corners[i]},${roof.width - corners[i + 1]}`);
    shadows.append(stage.node("polygon", { points: points.join(" ") }));
  }
  layer.replaceChildren(clip, shadows, rose(stage, moment, heading, roof));
}

// North and the sun round a small circle beside the nose, turned as the vehicle stands.
function rose(stage, moment, heading, roof) {
  const text = TEXT(roof);
  const radius = 1.7 * text;
  const at = {
    x: stage.full.x + stage.full.width - 3.1 * text,
    y: Math.max(radius + text, 0.2 * roof.width),
  };
  const group = stage.node("g", { class: "ws-rose" });
  const spot = (bearing, far) => {
    const angle = ((bearing - heading) * Math.PI) / 180; // the nose points to the right
    return { x: at.x + far * Math.cos(angle), y: at.y + far * Math.sin(angle) };
  };
  group.append(
    stage.node("circle", { cx: at.x, cy: at.y, r: radius, class: "ws-rose-ring", "stroke-width": text / 14 }),
  );
  const north = spot(0, radius * 0.95);
  group.append(
    stage.node("line", {
      x1: at.x,
      y1: at.y,
      x2: north.x,
      y2: north.y,
      class: "ws-rose-north",
      "stroke-width": text / 8,
    }),
  );
  const letter = stage.node("text", {
    ...spot(0, radius + 0.62 * text),
    class: "ws-rose-word",
    "font-size": 0.95 * text,
    "text-anchor": "middle",
    dy: "0.35em",
  });
  letter.textContent = "N";
  group.append(letter);
  if (moment.elevation > 0) {
    const sun = spot(moment.azimuth, radius * Math.cos((moment.elevation * Math.PI) / 180));
    group.append(
      stage.node("line", {
        x1: sun.x,
        y1: sun.y,
        x2: at.x,
        y2: at.y,
        class: "ws-rose-ray",
        "stroke-width": text / 12,
      }),
    );
    group.append(
      stage.node("circle", {
        cx: sun.x,
        cy: sun.y,
        r: 0.42 * text,
        class: "ws-rose-sun",
        "stroke-width": text / 12,
      }),
    );
  }
  return group;
}

const STEP = 15;

// Draws the day between sunrise and sunset, and lets the slider run over the same hours.
export function drawDay(stage, day, slider) {
  const up = day.elevation.map((value) => value > 0);
  const [first, last] = up.includes(true) ? [up.indexOf(true) - 1, up.lastIndexOf(true) + 1] : [0, 95];
  const [low, high] = [Math.max(first, 0) * STEP, Math.min(last, 95) * STEP];
  if (Number(slider.min) !== low || Number(slider.max) !== high) {
    const { value } = slider;
    Object.assign(slider, { min: low, max: high });
    slider.value = value;
  }
  const top = Math.max(...day.bare, 1);
  const x = (minute) => (100 * (minute - low)) / (high - low);
  const y = (watts) => 38 - (36 * watts) / top;
  const path = (values) =>
    values
      .map((watts, i) => [i * STEP, watts])
      .filter(([minute]) => minute >= low && minute <= high)
      .map(([minute, watts]) => `${x(minute).toFixed(2)},${y(watts).toFixed(2)}`)
      .join(" ");
  const line = (name, values) => stage.node("polyline", { points: path(values), class: name });
  const chart = document.getElementById("ws-day-chart");
  const cursor = x(Number(slider.value));
  const parts = [
    stage.node("polygon", { points: `0,38 ${path(day.power)} 100,38`, class: "ws-day-area" }),
    stage.node("line", { x1: 0, x2: 100, y1: 38, y2: 38, class: "ws-day-base" }),
    line("ws-day-bare", day.bare),
    line("ws-day-power", day.power),
    stage.node("line", { x1: cursor, x2: cursor, y1: 0, y2: 38, class: "ws-day-cursor" }),
  ];
  if (day.worst) {
    const at = x(day.worst.minute);
    parts.push(
      stage.node("line", {
        x1: at,
        x2: at,
        y1: y(day.bare[day.worst.minute / STEP]),
        y2: y(day.power[day.worst.minute / STEP]),
        class: "ws-day-worst",
      }),
    );
  }
  chart.replaceChildren(...parts);
  document.getElementById("ws-day-scale").replaceChildren(...hours(low, high));
  const sum = (values) => (values.reduce((all, one) => all + one, 0) * STEP) / 60 / 1000;
  document.getElementById("ws-day-words").textContent =
    `Solid: power, ${sum(day.power).toFixed(2)} kWh on this day. Dashed: unshaded, ${sum(day.bare).toFixed(2)} kWh, highest ${Math.max(...day.bare)} W.` +
    (day.worst
      ? " Thick upright: the hour in which shade takes most."
      : " Shade takes less than 1 Wh in every hour.");
}

function hours(low, high) {
  return [low, (low + high) / 2, high].map((minute) => {
    const whole = Math.round(minute / STEP) * STEP;
    const made = document.createElement("span");
    made.textContent = `${String(Math.floor(whole / 60)).padStart(2, "0")}:${String(whole % 60).padStart(2, "0")}`;
    return made;
  });
}
