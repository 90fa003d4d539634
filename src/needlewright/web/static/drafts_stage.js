// The photo and the shapes over it: nearer and farther, taps, dragging, arrow keys.

import { text } from "./base.js";
import { nudged } from "./drafts_scene.js";

const SVG = "http://www.w3.org/2000/svg";
const NEAREST = 12;
const STEP = 1.5;
const GRAB_PX = 17;
const LEAST_GRAB_PX = 5;
const WORDS_APART_PX = 20; // nearer ones would lie over each other: they show nearer up
const MOVED_PX = 3; // a hand that moves less has only pressed
const PRESSES = ["Enter", " "];
const REMOVES = ["Delete", "Backspace"];
const SETTLES_MS = 500; // arrow keys in a row are one change

function drawn(tag, facts) {
  const one = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(facts)) one.setAttribute(name, value);
  return one;
}

const half = ([x, y]) => [x + 0.5, y + 0.5]; // the middle of the first pixel is (0, 0)
const path = (points) => points.map((one) => half(one).map((c) => c.toFixed(2)).join(",")).join(" ");

export class Stage {
  // `told`: scene(live) gives shapes; placed(px), moved(id, value), picked(id), removed(id).
  constructor(view, stage, svg, told) {
    Object.assign(this, { view, stage, svg, told });
    this.zoom = 1;
    this.live = null;
    this.held = null;
    this.placing = false;
    this.picked = null;
    new ResizeObserver(() => this.draw()).observe(stage);
    svg.addEventListener("pointerdown", (event) => this.take(event));
    svg.addEventListener("pointermove", (event) => this.drag(event));
    svg.addEventListener("pointerup", (event) => this.letGo(event));
    svg.addEventListener("pointercancel", () => this.forget());
    svg.addEventListener("click", (event) => this.tap(event));
    svg.addEventListener("keydown", (event) => this.key(event));
    svg.addEventListener("focusout", () => {
      if (!this.isDrawing) this.settle();
    });
    // a finger on a handle moves the handle, one beside it moves the photo
    const still = (event) => {
      if (event.target.closest(".handle")) event.preventDefault();
    };
    svg.addEventListener("touchstart", still, { passive: false });
  }

  size(photo) {
    this.photo = photo;
    this.svg.setAttribute("viewBox", `0 0 ${photo.width} ${photo.height}`);
  }

  nearer(times) {
    const to = Math.min(Math.max(this.zoom * times, 1), NEAREST);
    const { view } = this;
    const middle = [view.scrollLeft + view.clientWidth / 2, view.scrollTop + view.clientHeight / 2];
    const ratio = to / this.zoom;
    this.zoom = to;
    this.stage.style.width = `${100 * to}%`;
    view.scrollLeft = middle[0] * ratio - view.clientWidth / 2;
    view.scrollTop = middle[1] * ratio - view.clientHeight / 2;
    this.draw();
  }

  step(way) {
    this.nearer(way > 0 ? STEP : 1 / STEP);
  }

  middle() {
    const box = this.view.getBoundingClientRect();
    return this.at({ clientX: box.left + this.view.clientWidth / 2, clientY: box.top + this.view.clientHeight / 2 });
  }

  at({ clientX, clientY }) {
    const box = this.svg.getBoundingClientRect();
    const x = ((clientX - box.left) / box.width) * this.photo.width - 0.5;
    const y = ((clientY - box.top) / box.height) * this.photo.height - 0.5;
    return [Math.min(Math.max(x, 0), this.photo.width - 1), Math.min(Math.max(y, 0), this.photo.height - 1)];
  }

  draw() {
    if (!this.photo) return;
    const unit = this.photo.width / (this.stage.clientWidth || 1);
    const focused = document.activeElement?.closest?.(".handle")?.dataset.id;
    this.shapes = this.told.scene(this.live);
    this.written = [];
    const parts = this.shapes.map((shape) => this.shape(shape, unit));
    this.isDrawing = true; // what had the focus gets it again
    this.svg.replaceChildren(...parts);
    this.svg.classList.toggle("is-placing", this.placing);
    if (focused) this.svg.querySelector(`[data-id="${focused}"]`)?.focus({ preventScroll: true });
    this.isDrawing = false;
  }

  shape(shape, unit) {
    const group = drawn("g", {
      class: `handle ${shape.kind}${shape.id === this.picked ? " is-picked" : ""}`,
      "data-id": shape.id, tabindex: "0", role: "button",
      "aria-label": `${shape.label}; ${text(shape.removable ? "drafts.arrows_delete" : "drafts.arrows")}`,
    });
    const [x, y] = half(shape.grab);
    for (const halo of ["halo", "ink"]) {
      if (shape.outline) group.append(drawn("polygon", { class: halo, points: path(shape.outline) }));
      for (const line of shape.lines ?? []) group.append(drawn("polyline", { class: halo, points: path(line) }));
      if (shape.unit === "px") group.append(drawn("circle", { class: halo, cx: x, cy: y, r: 9 * unit }));
    }
    if (shape.unit === "px") group.append(drawn("circle", { class: "dot", cx: x, cy: y, r: 1.6 * unit }));
    group.append(drawn("circle", { class: "grab", cx: x, cy: y, r: this.grabPx(shape, unit) * unit }));
    const [wx, wy] = shape.wordsAt ? half(shape.wordsAt) : [x + 13 * unit, y - 9 * unit];
    if (shape.words && (shape.id === this.picked || this.isFree(wx, wy, unit))) {
      this.written.push([wx, wy]);
      const words = drawn("text", {
        class: "words", x: wx, y: wy, "font-size": 13 * unit, "stroke-width": 3 * unit,
        "text-anchor": shape.wordsAt ? "middle" : "start", "dominant-baseline": "central",
      });
      words.textContent = shape.words;
      group.append(words);
    }
    return group;
  }

  isFree(x, y, unit) {
    return this.written.every((one) => Math.hypot(one[0] - x, one[1] - y) > WORDS_APART_PX * unit);
  }

  // As large as a finger where there is room, else half the way to the next one.
  grabPx(shape, unit) {
    let room = Infinity;
    for (const other of this.shapes) {
      if (other === shape) continue;
      room = Math.min(room, Math.hypot(other.grab[0] - shape.grab[0], other.grab[1] - shape.grab[1]));
    }
    return Math.min(Math.max(room / unit / 2, LEAST_GRAB_PX), GRAB_PX);
  }

  find(target) {
    const id = target.closest?.(".handle")?.dataset.id;
    return this.shapes.find((one) => one.id === id) ?? null;
  }

  take(event) {
    if (event.button !== 0 || this.placing) return;
    const shape = this.find(event.target);
    if (!shape) return;
    this.settle();
    const [x, y] = this.at(event);
    const off = [shape.grab[0] - x, shape.grab[1] - y];
    this.held = { shape, off, from: [event.clientX, event.clientY], pointer: event.pointerId, hasMoved: false };
    this.svg.setPointerCapture(event.pointerId);
    this.pick(shape.id);
    this.svg.querySelector(`[data-id="${shape.id}"]`)?.focus({ preventScroll: true });
  }

  drag(event) {
    const { held } = this;
    if (held?.pointer !== event.pointerId) return;
    const far = Math.hypot(event.clientX - held.from[0], event.clientY - held.from[1]);
    if (!held.hasMoved && far < MOVED_PX) return;
    held.hasMoved = true;
    const [x, y] = this.at(event);
    const to = [x + held.off[0], y + held.off[1]];
    this.live = { id: held.shape.id, value: held.shape.moved(to, held.shape.value) };
    this.draw();
  }

  letGo(event) {
    if (this.held?.pointer !== event.pointerId) return;
    this.held = null;
    this.settle();
    this.hasDragged = true;
    setTimeout(() => {
      this.hasDragged = false;
    }, 0);
  }

  forget() {
    this.held = null;
    this.live = null;
    this.draw();
  }

  // What was moved is a change now; it stays drawn where it is until that is answered.
  settle() {
    clearTimeout(this.settling);
    if (!this.live || this.held || this.live.isSent) return;
    this.live.isSent = true;
    const { id, value } = this.live;
    this.told.moved(id, value);
  }

  answered() {
    if (!this.held) this.live = null;
    this.draw();
  }

  // Nothing is drawn anew here: a finger whose handle goes away under it moves the photo instead.
  pick(id) {
    this.picked = id;
    for (const one of this.svg.children) one.classList.toggle("is-picked", one.dataset.id === id);
    this.told.picked(id);
  }

  tap(event) {
    if (this.placing && !this.hasDragged) this.told.placed(this.at(event));
    else if (!this.placing && !this.find(event.target) && !this.hasDragged) this.pick(null);
  }

  key(event) {
    const shape = this.find(event.target);
    if (!shape || event.ctrlKey || event.altKey || event.metaKey) return;
    if (PRESSES.includes(event.key)) {
      event.preventDefault();
      this.pick(shape.id);
    }
    if (shape.removable && REMOVES.includes(event.key)) {
      event.preventDefault();
      this.told.removed(shape.id);
      return;
    }
    const to = nudged(shape, event.key, event.shiftKey);
    if (to === undefined) return;
    event.preventDefault();
    this.picked = shape.id;
    this.live = { id: shape.id, value: to };
    this.draw();
    clearTimeout(this.settling);
    this.settling = setTimeout(() => this.settle(), SETTLES_MS);
  }
}
