// Where the photo lies on the roof: a point of the picture as a place on the roof, and back.

const APART = 20; // px of the picture: nearer points give no scale

const round = (value) => Math.round(value * 100) / 100;
const radians = (degrees) => (degrees * Math.PI) / 180;

export class Placing {
  // ``photo`` is what the server keeps: size of the picture, its middle, turn, two known points, their
  // distance.
  constructor(photo, roof) {
    Object.assign(this, { photo, roof });
  }

  // Returns how far the two known points are apart in the picture [px], 0 while one is missing.
  get apart() {
    const { a, b } = this.photo;
    return a.length && b.length ? Math.hypot(a[0] - b[0], a[1] - b[1]) : 0;
  }

  get hasTwoPoints() {
    return this.apart >= APART;
  }

  get isScaled() {
    return Boolean(this.photo.distance_mm) && this.hasTwoPoints;
  }

  // Returns millimeters a pixel; until it is scaled the photo is as long as the roof.
  get scale() {
    return this.isScaled ? this.photo.distance_mm / this.apart : this.roof.length / this.photo.width_px;
  }

  get middle() {
    return [this.photo.width_px / 2, this.photo.height_px / 2];
  }

  onRoof([px, py]) {
    const { photo, scale, middle } = this;
    const turn = radians(photo.turn_deg);
    const [x, y] = [(px - middle[0]) * scale, -(py - middle[1]) * scale];
    return {
      x: photo.x_mm + x * Math.cos(turn) - y * Math.sin(turn),
      y: photo.y_mm + x * Math.sin(turn) + y * Math.cos(turn),
    };
  }

  onPhoto({ x, y }) {
    const { photo, scale, middle } = this;
    const turn = radians(photo.turn_deg);
    const [dx, dy] = [x - photo.x_mm, y - photo.y_mm];
    const [px, py] = [dx * Math.cos(turn) + dy * Math.sin(turn), -dx * Math.sin(turn) + dy * Math.cos(turn)];
    const within = (value, most) => round(Math.min(Math.max(value, 0), most));
    return [within(px / scale + middle[0], photo.width_px), within(-py / scale + middle[1], photo.height_px)];
  }

  // Changes the photo and leaves one of its points where it lies on the roof.
  keeping(px, change) {
    const before = this.onRoof(px);
    Object.assign(this.photo, change);
    const after = this.onRoof(px);
    this.moveTo(this.photo.x_mm + before.x - after.x, this.photo.y_mm + before.y - after.y);
  }

  moveTo(x, y) {
    Object.assign(this.photo, { x_mm: round(x), y_mm: round(y) });
  }

  setPoint(name, at) {
    const px = this.onPhoto(at);
    this.keeping(px, { [name]: px });
  }

  turnBy(degrees) {
    this.photo.turn_deg = round(((this.photo.turn_deg + degrees + 540) % 360) - 180);
  }

  // Turns the photo so that the line through both points lies along or across the roof.
  level() {
    const { photo } = this;
    const [one, other] = [this.onRoof(photo.a), this.onRoof(photo.b)];
    const leans = (Math.atan2(other.y - one.y, other.x - one.x) * 180) / Math.PI;
    const nearest = Math.round(leans / 90) * 90;
    this.keeping(photo.a, { turn_deg: round(photo.turn_deg + nearest - leans) });
  }
}
