// Dragging the photo, or one of its two known points.

const NEAR = 18; // px: so near a point is meant

// Returns what the pointer takes hold of: a known point, else the whole photo.
export function takeHold(tool, at) {
  if (tool.tapping) return { tap: () => tool.tap(at), move: () => {}, drop: () => {}, cancel: () => {} };
  const name = pointNear(tool, at);
  return name ? holdPoint(tool, name) : holdPhoto(tool, at);
}

function pointNear({ desk, placing }, at) {
  const near = NEAR / desk.stage.svg.getScreenCTM().a;
  return ["a", "b"].find((one) => {
    if (!placing.photo[one].length) return false;
    const there = placing.onRoof(placing.photo[one]);
    return Math.hypot(there.x - at.x, there.y - at.y) <= near;
  });
}

function holdPoint(tool, name) {
  tool.choose(name);
  let to = null;
  return {
    move: (_event, now) => {
      to = now;
      tool.desk.marks();
      tool.held = { name, at: now };
    },
    drop: () => {
      tool.held = null;
      if (to) tool.setPoint(name, to);
    },
    tap: () => tool.choose(name),
    cancel: () => {
      tool.held = null;
    },
  };
}

function holdPhoto(tool, at) {
  const { placing } = tool;
  const from = { x_mm: placing.photo.x_mm, y_mm: placing.photo.y_mm };
  return {
    move: (_event, now) => {
      placing.moveTo(from.x_mm + now.x - at.x, from.y_mm + now.y - at.y);
      tool.draw();
    },
    drop: () => tool.changed(),
    tap: () => tool.choose(null),
    cancel: () => {
      Object.assign(placing.photo, from);
      tool.draw();
    },
  };
}
