// From face millimetres to the photo and back, and what lies where on a face.

export class Face {
  constructor({ matrix, radial, centre_px: centre, half_diagonal_px: half }) {
    this.matrix = matrix;
    this.inverse = inverse(matrix);
    this.radial = radial;
    this.centre = centre;
    this.half = half;
  }

  toPhoto(mm) {
    const [a, b] = mapped(this.matrix, mm);
    const bend = 1 + this.radial * (a * a + b * b);
    return [this.centre[0] + this.half * a * bend, this.centre[1] + this.half * b * bend];
  }

  toFace(px) {
    const bent = [(px[0] - this.centre[0]) / this.half, (px[1] - this.centre[1]) / this.half];
    let ideal = bent;
    for (let i = 0; i < 8; i += 1) {
      const bend = 1 + this.radial * (ideal[0] ** 2 + ideal[1] ** 2);
      ideal = [bent[0] / bend, bent[1] / bend];
    }
    return mapped(this.inverse, ideal);
  }
}

function mapped(m, [x, y]) {
  const depth = m[2][0] * x + m[2][1] * y + m[2][2];
  return [
    (m[0][0] * x + m[0][1] * y + m[0][2]) / depth,
    (m[1][0] * x + m[1][1] * y + m[1][2]) / depth,
  ];
}

function inverse([[a, b, c], [d, e, f], [g, h, i]]) {
  const whole = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g);
  return [
    [(e * i - f * h) / whole, (c * h - b * i) / whole, (b * f - c * e) / whole],
    [(f * g - d * i) / whole, (a * i - c * g) / whole, (c * d - a * f) / whole],
    [(d * h - e * g) / whole, (b * g - a * h) / whole, (a * e - b * d) / whole],
  ];
}

// Degrees clockwise from 12 o'clock.
export function onCircle([x, y], degrees, radius) {
  const turn = (degrees * Math.PI) / 180;
  return [x + radius * Math.sin(turn), y - radius * Math.cos(turn)];
}

// Both ends of a mark's line as it was seen: it need not pass the centre exactly. `angle` is that of
// its middle about the centre.
export function markLine(centre, { inner_mm: inner, outer_mm: outer, past_mm: past }, angle) {
  const aside = past ?? 0;
  const lean = (Math.asin(Math.max(-1, Math.min(1, (2 * aside) / (inner + outer)))) * 180) / Math.PI;
  const foot = onCircle(centre, angle - lean + 90, aside);
  return [inner, outer].map((radius) =>
    onCircle(foot, angle - lean, Math.sqrt(Math.max(radius ** 2 - aside ** 2, 0))));
}

// The angle of a point about a centre, on the branch next to `near`.
export function angleOf(centre, point, near) {
  const angle = (Math.atan2(point[0] - centre[0], centre[1] - point[1]) * 180) / Math.PI;
  return angle + 360 * Math.round((near - angle) / 360);
}

// A needle's corners on the face, tip last but one.
export function needleOutline({ centre_mm: centre, needle }, degrees) {
  const turn = (degrees * Math.PI) / 180;
  const side = [Math.cos(turn), Math.sin(turn)];
  const width = (r) =>
    needle.base_width_mm + ((needle.tip_width_mm - needle.base_width_mm) * Math.abs(r)) / needle.length_mm;
  const at = (r, sign) => {
    const [x, y] = onCircle(centre, degrees, r);
    return [x + (sign * side[0] * width(r)) / 2, y + (sign * side[1] * width(r)) / 2];
  };
  const [tail, tip] = [-needle.tail_mm, needle.length_mm];
  return [at(tail, -1), at(0, -1), at(tip, -1), at(tip, 1), at(0, 1), at(tail, 1)];
}
