// What the live place shows: the picture with needles, the numbers, and what to do now.

import { text } from "./base.js";

const NEEDLE = "#35e0ff";
const CASING = "#14120f";
const RATE_S = 1;

export class Shown {
  constructor(facts) {
    this.holdS = facts.hold_s;
    this.isPressing = facts.take === null;
    this.canvas = document.getElementById("live-picture");
    this.state = document.getElementById("live-state");
    this.held = document.getElementById("live-held");
    this.wrongPlace = document.getElementById("live-wrong");
    this.ratePlace = document.getElementById("live-rate");
    this.dials = new Map(
      [...document.querySelectorAll("[data-dial]")].map((one) => [one.dataset.dial, one]),
    );
    this.wanted = [];
    this.canTake = false;
    this.isHushed = false;
    this.lines = [];
    this.times = [];
    this.answers = 0;
    this.counted = null;
    this.over = null; // draws more over the picture
  }

  // The step in hand: what each dial is told there.
  step(now) {
    this.wanted = now.dials;
    this.canTake = false;
    for (const [dial, place] of this.dials) {
      const what = now.told[dial];
      place.querySelector(".live-told").textContent = what
        ? text("live.told", { what })
        : text(now.dials.includes(dial) ? "live.at_rest" : "live.nothing_told");
    }
  }

  // One frame's numbers; the picture they were read in, where it is this device's.
  answer(said, picture, ms) {
    this.lines = said.dials.filter((one) => one.line).map((one) => one.line);
    this.size = said.size;
    if (picture) this.draw(picture);
    if (!said.found) {
      this.noNumbers();
      this.forgetRate();
      this.say(`not_found.${said.reason.code}`, "wrong");
      return;
    }
    this.count(ms);
    for (const one of said.dials) this.number(one);
    this.judge(said);
  }

  number(one) {
    const place = this.dials.get(one.dial);
    place.dataset.state = one.state;
    put(place, ".live-value", one.shown || text("live.no_number"));
    put(place, ".live-direction", one.direction);
    const words = one.reason ? [one.reason.short] : one.flags;
    put(place, ".live-note", [text(`live.state_${one.state}`), ...words].join(", "));
  }

  // Whether it may be taken, and what to do if not.
  judge(said) {
    const mine = said.dials.filter((one) => this.wanted.includes(one.dial));
    const named = (state) => mine.filter((one) => one.state === state).map((one) => one.dial);
    const moving = named("moving");
    const settling = mine.filter((one) => one.state === "settling");
    const steady = named("steady");
    const unseen = named("unseen");
    const seen = mine.filter((one) => one.state !== "unseen");
    const still = Math.min(this.holdS, ...seen.map((one) => one.still_s));
    this.held.value = moving.length || !mine.length ? 0 : still / this.holdS;
    this.canTake = !said.shaken && !moving.length && !settling.length && steady.length > 0;
    if (said.shaken) this.say("shaken", "moving");
    else if (moving.length) this.say("moving", "moving", { dials: moving.join(", ") });
    else if (settling.length) {
      const left = Math.max(0.1, this.holdS - still).toFixed(1);
      this.say("hold", "settling", { dials: settling.map((one) => one.dial).join(", "), left });
    } else if (!steady.length) this.say("unseen", "wrong", { dials: unseen.join(", ") });
    else if (unseen.length) this.say("steady_without", "steady", { dials: unseen.join(", ") });
    else this.say(this.isPressing ? "set.press_still" : "steady", "steady");
  }

  draw(picture) {
    const { canvas } = this;
    if (canvas.width !== picture.width || canvas.height !== picture.height) {
      canvas.width = picture.width;
      canvas.height = picture.height;
    }
    delete canvas.dataset.stale;
    const paper = canvas.getContext("2d");
    paper.drawImage(picture, 0, 0);
    const share = this.size ? picture.width / this.size[0] : 1;
    const unit = Math.max(1, picture.width / 640);
    for (const [colour, width] of [
      [CASING, 4 * unit],
      [NEEDLE, 1.6 * unit],
    ]) {
      paper.strokeStyle = colour;
      paper.lineWidth = width;
      paper.lineCap = "round";
      for (const [[x0, y0], [x1, y1]] of this.lines) {
        paper.beginPath();
        paper.moveTo((x0 + 0.5) * share, (y0 + 0.5) * share);
        paper.lineTo((x1 + 0.5) * share, (y1 + 0.5) * share);
        paper.stroke();
      }
    }
    this.over?.(paper, share, unit);
    picture.close();
  }

  // No number is left standing, and why.
  blank(sentence, state = "wrong") {
    this.lines = [];
    this.canvas.dataset.stale = "yes";
    this.forgetRate();
    this.noNumbers();
    this.sayPlain(sentence, state);
  }

  noNumbers() {
    this.canTake = false;
    this.held.value = 0;
    for (const place of this.dials.values()) {
      place.dataset.state = "unseen";
      put(place, ".live-value", text("live.no_number"));
      put(place, ".live-direction", "");
      put(place, ".live-note", "");
    }
  }

  say(name, state, values = {}) {
    this.sayPlain(text(`live.${name}`, values), state);
  }

  sayPlain(sentence, state) {
    if (this.isHushed) return;
    if (this.state.textContent !== sentence) this.state.textContent = sentence;
    this.state.dataset.state = state;
  }

  hush(name) {
    this.say(name, "settling");
    this.isHushed = true;
  }

  unhush() {
    this.isHushed = false;
    this.canTake = false;
  }

  took(said) {
    const read = said.readings.filter((one) => this.wanted.includes(one.dial));
    const words = read.map((one) => `${one.dial} ${one.words}`).join("; ");
    const line = document.createElement("p");
    line.className = "live-took";
    line.setAttribute("role", "status");
    line.textContent = text(words ? "live.took" : "live.took_none", { step: said.step, words });
    if (said.next === null) line.textContent += ` ${text("live.all_taken")}`;
    this.wrongPlace.replaceChildren(line);
  }

  wrong(sentence) {
    const line = document.createElement("p");
    line.className = "what";
    line.textContent = capital(sentence);
    const box = document.createElement("div");
    box.className = "wrong";
    box.append(line);
    this.wrongPlace.replaceChildren(box);
  }

  clearWrong() {
    this.wrongPlace.replaceChildren();
  }

  forgetRate() {
    [this.times, this.answers, this.counted] = [[], 0, null];
    this.ratePlace.textContent = "";
  }

  // How quick it is, said once a second.
  count(ms) {
    this.counted ??= performance.now();
    if (ms !== null) this.times.push(ms);
    this.answers += 1;
    const passed = (performance.now() - this.counted) / 1000;
    if (passed < RATE_S) return;
    const sorted = this.times.sort((a, b) => a - b);
    const middle = sorted.length ? Math.round(sorted[sorted.length >> 1]) : null;
    const rate = Math.round(this.answers / passed);
    this.ratePlace.textContent = middle === null ? "" : text("live.rate", { rate, ms: middle });
    this.ratePlace.dataset.rate = rate;
    this.ratePlace.dataset.ms = middle ?? "";
    [this.times, this.answers, this.counted] = [[], 0, performance.now()];
  }
}

function put(place, selector, words) {
  const found = place.querySelector(selector);
  if (found.textContent !== words) found.textContent = words;
}

function capital(words) {
  return words ? `${words[0].toUpperCase()}${words.slice(1)}` : words;
}
