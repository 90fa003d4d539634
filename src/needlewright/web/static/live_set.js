// Setting needles: the target in the picture, what is left to turn, by eye and by ear.

import { send, text } from "./base.js";
import { Tone } from "./live_tone.js";

const OUTSIDE = "#ffb020";
const INSIDE = "#6df08f";
const CASING = "#14120f";
const HUB_SHARE = 0.25;

export class SetMode {
  constructor(facts) {
    this.facts = facts;
    this.place = document.getElementById("live-set");
    this.panel = document.getElementById("set-panel");
    this.button = document.getElementById("set-mode");
    this.soundButton = document.getElementById("set-sound");
    this.write = document.getElementById("set-write");
    this.tone = new Tone(this.soundButton);
    this.isOn = false;
    this.choices = [];
    this.chosen = null;
    this.from = null;
    this.wheel = null;
    this.left = null;
    this.updates = 0;
    this.liveId = null;
    this.isWriting = false;
    this.button.addEventListener("click", () => this.turn(!this.isOn));
    this.soundButton.addEventListener("click", () => this.tone.toggle());
    this.write.addEventListener("click", () => this.writeDown());
    document.getElementById("set-next").addEventListener("click", () => this.move(1));
    document.getElementById("set-previous").addEventListener("click", () => this.move(-1));
  }

  turn(isOn) {
    this.isOn = isOn;
    this.button.setAttribute("aria-pressed", String(isOn));
    this.panel.hidden = !isOn;
    if (!isOn) this.tone.stop();
    this.choose(this.chosen ?? this.choices[0] ?? null);
  }

  // The step in hand: the needles it tells a value.
  step(number) {
    this.choices = this.facts.sets.filter((one) => one.step === number);
    const same = this.choices.find((one) => one.dial === this.chosen?.dial);
    this.choose(same ?? this.choices[0] ?? null);
  }

  move(by) {
    if (this.onMove) return this.onMove(by);
    if (!this.choices.length) return;
    const at = this.choices.indexOf(this.chosen);
    this.choose(this.choices[(at + by + this.choices.length) % this.choices.length]);
  }

  choose(target) {
    this.chosen = target;
    this.from = null;
    this.wheel = null;
    const name = document.getElementById("set-dial");
    name.textContent = target
      ? text("live.set.aim", { dial: target.dial, what: target.told })
      : text("live.set.no_target");
    document.getElementById("set-by").textContent = target ? by(target) : "";
    document.getElementById("set-said").replaceChildren();
    this.show(null);
  }

  // One frame's numbers; null where there are none.
  answer(said) {
    if (!this.isOn || !this.chosen) return;
    const one = said?.dials.find((dial) => dial.dial === this.chosen.dial);
    if (one?.wheel) this.wheel = one.wheel;
    if (!one || one.angle_deg === null || one.state === "unseen") {
      this.show(null);
      return;
    }
    this.from ??= one.angle_deg;
    this.isStill = one.state === "steady";
    this.updates += 1;
    this.show(nearest(this.chosen.target_deg - one.angle_deg));
  }

  show(left) {
    this.left = left;
    const isInside = left !== null && Math.abs(left) <= this.chosen.inside_deg;
    const tips = left === null ? null : Math.abs(left) / this.chosen.tip_deg;
    this.panel.dataset.inside = left === null ? "unseen" : isInside ? "yes" : "no";
    this.panel.dataset.updates = this.updates;
    put("set-left", left === null ? text("live.no_number") : `${Math.abs(left).toFixed(1)}°`);
    put("set-tips", tips === null ? "" : text("live.set.tips", { tips: tips.toFixed(1) }));
    put("set-shape", left === null ? "–" : isInside ? "◎" : left > 0 ? "↻" : "↺");
    const word = left === null ? "unseen" : isInside ? "inside" : null;
    if (word) put("set-word", text(`live.set.${word}`));
    else put("set-word", text(left > 0 ? "live.set.clockwise" : "live.set.anticlockwise"));
    this.tone.update(tips, isInside);
    const may = left !== null && this.isStill && this.liveId && !this.isWriting;
    this.write.setAttribute("aria-disabled", String(!may));
  }

  // The final direction, read as a photo is, as work done on the job.
  async writeDown() {
    if (this.write.getAttribute("aria-disabled") === "true") return;
    this.isWriting = true;
    this.show(this.left);
    const place = document.getElementById("set-said");
    const form = new FormData();
    form.set("live", this.liveId);
    form.set("dial", this.chosen.dial);
    form.set("step", String(this.chosen.step));
    form.set("from_deg", String(this.from));
    try {
      const said = await send(this.facts.set, { form });
      const lines = [text(said.says ? "live.set.press_written" : "live.set.written", told(said))];
      if (said.open?.length === 0) lines.push(text("live.set.all_pressed"));
      if (!said.inside) lines.push(text("live.set.not_inside"));
      if (said.low) lines.push(text("live.set.reads_low"));
      place.replaceChildren(...lines.map(paragraph));
      place.dataset.good = String(said.inside && !said.low);
      this.from = null;
      this.onWritten?.(said);
    } catch (error) {
      place.replaceChildren(paragraph(error.message));
      place.dataset.good = "false";
    } finally {
      this.isWriting = false;
      this.isStill = false;
      this.show(this.left);
    }
  }

  // The target over the picture: a dashed needle, the room about it, a mark at its tip.
  draw(paper, share, unit) {
    if (!this.isOn || !this.chosen || !this.wheel) return;
    const at = placed(this.wheel, share);
    const { target_deg: target, inside_deg: room } = this.chosen;
    const isInside = this.panel.dataset.inside === "yes";
    const line = [at(target, HUB_SHARE), at(target, 1)];
    const band = [-1, -0.5, 0, 0.5, 1].map((part) => at(target + part * room, 1.02));
    const head = [at(target, 1.04), at(target - 2.5, 1.16), at(target + 2.5, 1.16)];
    for (const [colour, width] of [
      [CASING, 5 * unit],
      [isInside ? INSIDE : OUTSIDE, 2.4 * unit],
    ]) {
      paper.strokeStyle = paper.fillStyle = colour;
      paper.lineWidth = width;
      paper.setLineDash(isInside ? [] : [8 * unit, 6 * unit]);
      trace(paper, line);
      paper.setLineDash([]);
      trace(paper, band);
      trace(paper, [...head, head[0]]);
      paper.fill();
    }
  }

  end() {
    this.liveId = null;
    this.wheel = null;
    if (this.chosen) this.show(null);
  }

  gone() {
    if (this.tone.isOn) this.tone.stop();
  }
}

// Lays a direction and a share of the needle's length into the picture: the plane the tip turns
// in, seen by a camera, from where the tip would stand at 0, 90, 180 and 270 degrees.
export function placed(wheel, share) {
  const [[x0, y0], [x1, y1], [x2, y2], [x3, y3]] = wheel;
  const [sx, sy] = [x0 - x1 + x2 - x3, y0 - y1 + y2 - y3];
  const [ax, ay, bx, by] = [x1 - x2, y1 - y2, x3 - x2, y3 - y2];
  const whole = ax * by - bx * ay;
  const g = (sx * by - bx * sy) / whole;
  const h = (ax * sy - sx * ay) / whole;
  return (degrees, radius) => {
    const a = (degrees * Math.PI) / 180;
    const [x, y] = [radius * Math.sin(a), -radius * Math.cos(a)];
    const [u, v] = [(x + y + 1) / 2, (y + 1 - x) / 2];
    const w = g * u + h * v + 1;
    const px = ((x1 - x0 + g * x1) * u + (x3 - x0 + h * x3) * v + x0) / w;
    const py = ((y1 - y0 + g * y1) * u + (y3 - y0 + h * y3) * v + y0) / w;
    return [(px + 0.5) * share, (py + 0.5) * share];
  };
}

function trace(paper, points) {
  paper.beginPath();
  for (const [x, y] of points) paper.lineTo(x, y);
  paper.stroke();
}

function by(target) {
  if (target.by_press) return text("live.set.by_press", target);
  return text(target.by_turn ? "live.set.by_turn" : "live.set.by_programme");
}

function told(said) {
  return said.says ? { ...said, says: `${said.says[0].toUpperCase()}${said.says.slice(1)}.` } : said;
}

function nearest(turn) {
  return turn - 360 * Math.round(turn / 360);
}

function put(id, words) {
  const found = document.getElementById(id);
  if (found.textContent !== words) found.textContent = words;
}

function paragraph(words) {
  const line = document.createElement("p");
  line.textContent = words;
  return line;
}
