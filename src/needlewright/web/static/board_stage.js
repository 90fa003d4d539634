// A photo of the board and what lies over it: nearer and farther, taps, pins that are dragged.

import { text } from "./base.js";

const NEAREST = 8;
const MOVED_PX = 4; // a hand that moves less has only pressed
const NUDGE = 0.002;
const FAR_NUDGE = 0.02;
const SETTLES_MS = 450; // arrow keys in a row are one change
const WAYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

const within = (share) => Math.min(Math.max(share, 0), 1);

function made(tag, facts = {}, words = "") {
  const one = document.createElement(tag);
  for (const [name, value] of Object.entries(facts)) one.setAttribute(name, value);
  one.textContent = words;
  return one;
}

function put(one, { left, top, width, height }) {
  Object.assign(one.style, { left: `${100 * left}%`, top: `${100 * top}%` });
  if (width !== undefined) Object.assign(one.style, { width: `${100 * width}%`, height: `${100 * height}%` });
  return one;
}

export class Stage {
  // `told`: tapped(stage, x, y), picked(number), moved(number, x, y), answered(number), removed(number)
  constructor(stage, told) {
    this.stage = stage;
    this.view = stage.parentElement;
    this.told = told;
    this.zoom = 1;
    this.held = null;
    this.over = made("div", { class: "board-marks" });
    stage.append(this.over);
    if (stage.dataset.photo) {
      stage.addEventListener("click", (event) => this.tap(event));
      stage.addEventListener("pointerdown", (event) => this.take(event));
      stage.addEventListener("pointermove", (event) => this.drag(event));
      stage.addEventListener("pointerup", (event) => this.letGo(event));
      stage.addEventListener("pointercancel", () => this.forget());
      stage.addEventListener("keydown", (event) => this.key(event));
    }
    this.pinch();
  }

  get photo() {
    return Number(this.stage.dataset.photo);
  }

  at({ clientX, clientY }) {
    const box = this.stage.getBoundingClientRect();
    return [within((clientX - box.left) / box.width), within((clientY - box.top) / box.height)];
  }

  nearer(times, about = null) {
    const to = Math.min(Math.max(this.zoom * times, 1), NEAREST);
    const box = this.view.getBoundingClientRect();
    const [x, y] = about ?? [box.left + box.width / 2, box.top + box.height / 2];
    const from = [this.view.scrollLeft + x - box.left, this.view.scrollTop + y - box.top];
    const ratio = to / this.zoom;
    this.zoom = to;
    this.stage.style.width = `${100 * to}%`;
    this.view.scrollLeft = from[0] * ratio - (x - box.left);
    this.view.scrollTop = from[1] * ratio - (y - box.top);
  }

  // The middle of what is in view.
  middle() {
    const box = this.view.getBoundingClientRect();
    return this.at({ clientX: box.left + this.view.clientWidth / 2, clientY: box.top + this.view.clientHeight / 2 });
  }

  pinch() {
    let apart = null;
    const spread = ([one, other]) => Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY);
    this.view.addEventListener("touchmove", (event) => {
      if (event.touches.length !== 2) return;
      event.preventDefault();
      const now = spread(event.touches);
      const [one, other] = event.touches;
      if (apart) this.nearer(now / apart, [(one.clientX + other.clientX) / 2, (one.clientY + other.clientY) / 2]);
      apart = now;
    }, { passive: false });
    for (const end of ["touchend", "touchcancel"]) this.view.addEventListener(end, () => { apart = null; });
    // a finger on a pin moves the pin, one beside it moves the photo
    this.stage.addEventListener("touchstart", (event) => {
      if (event.target.closest(".pin[data-number]")) event.preventDefault();
    }, { passive: false });
  }

  // `ghosts`: earlier pins without an answer, at their places of this photo.
  draw({ pins = [], ghosts = [], places = [], picked = null, pending = null }) {
    const focused = this.over.contains(document.activeElement) ? document.activeElement.dataset.number : null;
    const parts = places.map((place, index) => {
      const one = put(made("div", { class: "changed" }), place);
      one.append(made("span", { "aria-hidden": "true" }, String(index + 1)));
      return one;
    });
    for (const ghost of ghosts) {
      parts.push(put(made("button", {
        type: "button", class: "pin ghost", "data-answer": ghost.number,
        "data-label": ghost.number, "aria-label": `${ghost.words}; ${text("board.answers", { number: ghost.number })}`,
      }), { left: ghost.x, top: ghost.y }));
    }
    for (const pin of pins) {
      const facts = {
        type: "button", class: "pin", "data-number": pin.number, "data-label": pin.number, "data-state": pin.state,
        "aria-pressed": String(pin.number === picked),
        "aria-label": `${pin.number}: ${pin.words}; ${text("board.keys")}`,
      };
      parts.push(put(made("button", facts), { left: pin.x, top: pin.y }));
    }
    if (pending) parts.push(put(made("div", { class: "pin pending", "data-label": "?" }), { left: pending.x, top: pending.y }));
    this.isDrawing = true;
    this.over.replaceChildren(...parts);
    if (focused) this.find(focused)?.focus({ preventScroll: true });
    this.isDrawing = false;
  }

  find(number) {
    return this.over.querySelector(`.pin[data-number="${number}"]`);
  }

  show(number) {
    this.find(number)?.scrollIntoView({ block: "nearest", inline: "nearest" });
  }

  tap(event) {
    if (this.hasDragged) return;
    const pin = event.target.closest(".pin");
    if (pin?.dataset.answer) this.told.answered(Number(pin.dataset.answer));
    else if (pin?.dataset.number) this.told.picked(Number(pin.dataset.number));
    else if (!pin) this.told.tapped(this, ...this.at(event));
  }

  take(event) {
    const pin = event.target.closest(".pin[data-number]");
    if (event.button !== 0 || !pin) return;
    this.settle();
    this.held = { pin, from: [event.clientX, event.clientY], pointer: event.pointerId, to: null };
    this.stage.setPointerCapture(event.pointerId);
  }

  drag(event) {
    const { held } = this;
    if (held?.pointer !== event.pointerId) return;
    if (!held.to && Math.hypot(event.clientX - held.from[0], event.clientY - held.from[1]) < MOVED_PX) return;
    held.to = this.at(event);
    put(held.pin, { left: held.to[0], top: held.to[1] });
  }

  letGo(event) {
    const { held } = this;
    if (held?.pointer !== event.pointerId) return;
    this.held = null;
    this.hasDragged = true; // the click that follows has been answered here
    setTimeout(() => { this.hasDragged = false; }, 0);
    const number = Number(held.pin.dataset.number);
    if (held.to) this.told.moved(number, ...held.to);
    else this.told.picked(number);
    this.find(number)?.focus({ preventScroll: true });
  }

  forget() {
    this.held = null;
    this.told.redraw();
  }

  key(event) {
    const pin = event.target.closest(".pin[data-number]");
    if (!pin || event.ctrlKey || event.altKey || event.metaKey) return;
    const number = Number(pin.dataset.number);
    if (["Delete", "Backspace"].includes(event.key)) {
      event.preventDefault();
      this.told.removed(number);
      return;
    }
    const way = WAYS[event.key];
    if (!way) return;
    event.preventDefault();
    const step = event.shiftKey ? FAR_NUDGE : NUDGE;
    const from = this.nudged?.number === number ? this.nudged.to : [parseFloat(pin.style.left) / 100, parseFloat(pin.style.top) / 100];
    const to = [within(from[0] + way[0] * step), within(from[1] + way[1] * step)];
    put(pin, { left: to[0], top: to[1] });
    clearTimeout(this.settling);
    this.nudged = { number, to };
    this.settling = setTimeout(() => this.settle(), SETTLES_MS);
  }

  settle() {
    clearTimeout(this.settling);
    const { nudged } = this;
    this.nudged = null;
    if (nudged) this.told.moved(nudged.number, ...nudged.to);
  }
}
