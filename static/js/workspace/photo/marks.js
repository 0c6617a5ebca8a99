// Draws the two known points of the photo.

export function pointMarks({ stage }, placing, chosen, held) {
  const width = stage.shown.width / 500;
  const { photo } = placing;
  return ["a", "b"]
    .filter((name) => photo[name].length || held?.name === name)
    .flatMap((name) => {
      const at = held?.name === name ? held.at : placing.onRoof(photo[name]);
      return pointMark(stage, at, chosen === name, width);
    });
}

function pointMark(stage, { x, y }, isChosen, width) {
  const [cx, cy] = [x, stage.roofWidth - y];
  const ring = {
    cx,
    cy,
    r: 8 * width,
    class: `ws-point${isChosen ? " ws-point-chosen" : ""}`,
    "stroke-width": 1.5 * width,
  };
  const cross = {
    d: `M${cx - 4 * width} ${cy}h${8 * width}M${cx} ${cy - 4 * width}v${8 * width}`,
    class: "ws-point",
    "stroke-width": width,
  };
  return [stage.node("circle", ring), stage.node("path", cross)];
}
