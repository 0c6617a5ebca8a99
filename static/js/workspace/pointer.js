// The pointers on the drawing: a tap, a drag of what lies there, else moving the view; two fingers or a wheel
// zoom.

const SLIP = 4; // px: less than this is a tap, not a drag
const EVENTS = { pointerdown: "down", pointermove: "move", pointerup: "up", pointercancel: "cancel" };

export class Pointer {
  constructor(stage) {
    Object.assign(this, { stage, pressed: new Map(), hold: null });
    for (const [kind, act] of Object.entries(EVENTS)) {
      stage.element.addEventListener(kind, (event) => this[act](event));
    }
    stage.element.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
  }

  // What lies under the pointer may answer with a hold: move, drop, tap and cancel; else the view moves.
  down(event) {
    const { stage, pressed } = this;
    if (event.button > 0) return;
    stage.element.setPointerCapture(event.pointerId);
    pressed.set(event.pointerId, event);
    if (pressed.size === 2) {
      this.hold?.cancel?.();
      this.hold = null;
      this.pinch = this.span();
      return;
    }
    this.start = event;
    this.isSlip = true;
    this.hold = stage.onDown?.(stage.onRoof(event), event) ?? this.pan(event);
  }

  pan(event) {
    const { stage } = this;
    let last = [event.clientX, event.clientY];
    return {
      move: (now) => {
        const scale = 1 / stage.svg.getScreenCTM().a;
        const { x, y, width, height } = stage.shown;
        stage.look({
          x: x - (now.clientX - last[0]) * scale,
          y: y - (now.clientY - last[1]) * scale,
          width,
          height,
        });
        last = [now.clientX, now.clientY];
      },
      tap: () => stage.onTapAway?.(),
    };
  }

  move(event) {
    if (!this.pressed.has(event.pointerId)) return;
    this.pressed.set(event.pointerId, event);
    if (this.pressed.size === 2) return this.stretch();
    if (!this.hold) return;
    const far = Math.hypot(event.clientX - this.start.clientX, event.clientY - this.start.clientY);
    if (this.isSlip && far < SLIP) return;
    this.isSlip = false;
    this.hold.move(event, this.stage.onRoof(event));
  }

  // Returns how far two fingers are apart, and the middle between them.
  span() {
    const [one, other] = [...this.pressed.values()];
    const middle = { clientX: (one.clientX + other.clientX) / 2, clientY: (one.clientY + other.clientY) / 2 };
    return { far: Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY), middle };
  }

  stretch() {
    const now = this.span();
    if (now.far > 10) this.stage.zoom(this.pinch.far / now.far, this.stage.drawn(now.middle));
    this.pinch = now;
  }

  up(event) {
    if (!this.pressed.delete(event.pointerId)) return;
    const { hold } = this;
    this.hold = null;
    if (!hold) return;
    if (this.isSlip) hold.tap?.(event);
    else hold.drop?.(event);
  }

  cancel(event) {
    this.pressed.delete(event.pointerId);
    this.hold?.cancel?.();
    this.hold = null;
  }

  wheel(event) {
    if (!event.ctrlKey) return; // the page scrolls; a pinch on a touch pad arrives with ctrl
    event.preventDefault();
    this.stage.zoom(event.deltaY > 0 ? 1.12 : 1 / 1.12, this.stage.drawn(event));
  }
}
