// Draws the clock over the plan: the shadows of a moment, and where sun and north are.

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
  const text = stage.textSize;
  const radius = 1.7 * text;
  const at = {
    x: stage.full.x + stage.full.width - 3.1 * text,
    y: Math.max(radius + text, 0.2 * roof.width),
  };
  const spot = (bearing, far) => {
    const angle = ((bearing - heading) * Math.PI) / 180; // the nose points to the right
    return { x: at.x + far * Math.cos(angle), y: at.y + far * Math.sin(angle) };
  };
  const group = stage.node("g", { class: "ws-rose" });
  group.append(
    circle(stage, at, radius, "ws-rose-ring", text / 14),
    line(stage, at, spot(0, radius * 0.95), "ws-rose-north", text / 8),
    letterN(stage, spot(0, radius + 0.62 * text), text),
  );
  if (moment.elevation > 0) {
    const sun = spot(moment.azimuth, radius * Math.cos((moment.elevation * Math.PI) / 180));
    group.append(
      line(stage, sun, at, "ws-rose-ray", text / 12),
      circle(stage, sun, 0.42 * text, "ws-rose-sun", text / 12),
    );
  }
  return group;
}

function circle(stage, { x, y }, r, name, width) {
  return stage.node("circle", { cx: x, cy: y, r, class: name, "stroke-width": width });
}

function line(stage, from, to, name, width) {
  const ends = { x1: from.x, y1: from.y, x2: to.x, y2: to.y };
  return stage.node("line", { ...ends, class: name, "stroke-width": width });
}

function letterN(stage, spot, text) {
  const letter = stage.node("text", {
    ...spot,
    class: "ws-rose-word",
    "font-size": 0.95 * text,
    "text-anchor": "middle",
    dy: "0.35em",
  });
  letter.textContent = "N";
  return letter;
}
