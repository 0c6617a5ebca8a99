// The straight lines of a wire, how far a place is from them, and how long they are. Plane geometry in mm.

export function linesOf(wire) {
  const stops = [...wire.bends, ...(wire.last ? [wire.last] : [])];
  if (!stops.length) return [];
  return [...wire.ends.map((end) => [end, stops[0]]), ...stops.slice(1).map((to, at) => [stops[at], to])];
}

export function distanceTo([x, y], [ax, ay], [bx, by]) {
  const span = (bx - ax) ** 2 + (by - ay) ** 2;
  const share = span ? Math.min(1, Math.max(0, ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / span)) : 0;
  return Math.hypot(x - ax - share * (bx - ax), y - ay - share * (by - ay));
}

// Returns before which bend the stretch of a wire lies that is nearest to a place.
export function stretchAt(wire, x, y) {
  const gaps = linesOf(wire).map(([from, to]) => distanceTo([x, y], from, to));
  if (!gaps.length) return wire.bends.length;
  return Math.max(0, gaps.indexOf(Math.min(...gaps)) - wire.ends.length + 1);
}

export function lengthOf({ ends, bends, last }) {
  const points = [ends[0], ...bends, ...(last ? [last] : [])];
  return points
    .slice(1)
    .reduce((sum, at, place) => sum + Math.hypot(at[0] - points[place][0], at[1] - points[place][1]), 0);
}
