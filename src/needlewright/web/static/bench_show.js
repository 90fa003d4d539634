// What the bench screen shows: where the run stands, what is on the wires, the table as it fills.

import { text } from "./base.js";

const NEEDLE = "#35e0ff";
const CASING = "#14120f";
const ON = ["preparing", "running", "paused", "stopping"];

export class BenchShown {
  constructor() {
    this.place = document.getElementById("bench");
    this.canvas = document.getElementById("bench-picture");
    this.rows = document.getElementById("bench-rows");
    this.dials = new Map(
      [...document.querySelectorAll("[data-dial]")].map((one) => [one.dataset.dial, one]),
    );
    this.drawnRows = new Map();
  }

  // Where the run stands, with everything but the picture.
  now(said) {
    this.said = said;
    this.place.dataset.phase = said.phase;
    put(byId("bench-state"), this.sentence(said));
    byId("bench-bar").max = said.of || 1;
    byId("bench-bar").value = said.done;
    put(byId("bench-count"), `${said.done} / ${said.of}`);
    put(byId("bench-left"), this.isOn && said.left_s !== null ? left(said.left_s) : "");
    this.buttons(said);
    this.hand(said.hand);
    this.wires(said);
    said.steps.forEach((step, place) => this.row(step, place + 1));
    document.querySelector(".bench-dials").hidden = !this.isOn;
    this.results(said.results ?? []);
  }

  get isOn() {
    return ON.includes(this.said.phase);
  }

  sentence(said) {
    const values = { n: Math.min(said.done + 1, said.of), of: said.of, done: said.done, words: said.words };
    if (said.phase === "running" && said.hand?.asked) {
      return text("bench.hand", { words: text("bench.step", values) });
    }
    if (said.phase === "running") return text("bench.step", values);
    if (said.phase === "failed") return `${said.words} ${text("bench.failed_kept", values)}`;
    if (said.phase === "stopped") return text(said.words ? "bench.stopped" : "bench.interrupted", values);
    return text(`bench.${said.phase}`, values);
  }

  buttons(said) {
    const isOn = this.isOn;
    byId("bench-stop-form").hidden = !isOn;
    byId("bench-stop").disabled = said.phase === "stopping";
    byId("bench-small").hidden = !["running", "paused"].includes(said.phase);
    swap(byId("bench-pause"), byId("bench-go"), said.phase === "paused", "p");
    const isAgain = said.phase === "stopped" || said.phase === "failed";
    byId("bench-again").hidden = !isAgain;
    byId("bench-again").querySelector("button").toggleAttribute("data-key", false);
    if (isAgain) byId("bench-again").querySelector("button").dataset.key = "x";
    byId("bench-over").hidden = said.phase !== "finished";
    if (said.phase === "finished") byId("bench-over").querySelector("a").dataset.key = "x";
  }

  hand(hand) {
    byId("bench-hand").hidden = !hand;
    byId("bench-done").hidden = !hand?.asked;
    byId("bench-cannot").hidden = !hand?.asked;
    byId("bench-done").toggleAttribute("data-key", false);
    if (!hand) return;
    if (hand.asked) byId("bench-done").dataset.key = "x";
    byId("bench-done").dataset.asked = hand.asked ?? "";
    const lines = byId("bench-hand-lines");
    if (lines.dataset.said === hand.lines.join("\n")) return;
    lines.dataset.said = hand.lines.join("\n");
    lines.replaceChildren(...hand.lines.map((line) => element("p", line)));
  }

  wires(said) {
    byId("bench-wires-part").hidden = !this.isOn;
    const key = said.key === null ? "" : text(said.key ? "bench.key_on" : "bench.key_off");
    const isAny = said.wires.some((wire) => wire.told);
    put(byId("bench-key"), isAny ? key : `${key}. ${text("bench.nothing_on")}`);
    const list = byId("bench-wires");
    const mark = JSON.stringify(said.wires);
    if (list.dataset.mark === mark) return;
    list.dataset.mark = mark;
    list.replaceChildren(...(isAny ? said.wires.flatMap(wire) : []));
    for (const one of said.wires) {
      const told = this.dials.get(one.dial)?.querySelector(".bench-told");
      if (told) put(told, one.told ? text("bench.told", { what: one.told.split(/[,±]/)[0].trim() }) : "");
    }
  }

  // What the finished run comes to, dial by dial.
  results(results) {
    const list = byId("bench-results");
    list.hidden = !results.length;
    const verdicts = results.map((one) => {
      const verdict = element("span", one.words, "verdict");
      verdict.dataset.result = one.result;
      const line = document.createElement("li");
      line.append(element("span", one.dial, "of"), verdict);
      return line;
    });
    list.replaceChildren(...verdicts);
  }

  row(step, number) {
    const mark = JSON.stringify(step);
    const was = this.drawnRows.get(step.n);
    if (was?.mark === mark) return;
    const line = document.createElement("tr");
    line.dataset.step = step.n;
    line.dataset.state = step.state;
    const head = document.createElement("th");
    head.scope = "row";
    const isLook = step.kind === "look";
    const isFilmed = !isLook && step.state === "seen";
    head.append(element("span", `${number} `));
    head.append(element("span", text(isFilmed ? "bench.row_seen_sweep" : `bench.row_${step.state}`)));
    if (isLook) head.append(element("span", text(`bench.way_${step.way}`), "way"));
    line.append(head, ...(isLook ? step.cells.map((cell) => cellOf(cell, step.state)) : [wholeOf(step, this.dials.size)]));
    if (was) was.line.replaceWith(line);
    else this.rows.append(line);
    this.drawnRows.set(step.n, { mark, line });
    if (step.state === "now" && was) this.keepInView(line);
  }

  // The table scrolls with the run, and the page does not.
  keepInView(line) {
    const around = line.closest(".table-scroll");
    if (around.scrollHeight <= around.clientHeight) return;
    around.scrollTop = line.offsetTop - around.clientHeight / 2;
  }

  // One picture and what was read in it.
  look(look, picture) {
    const lines = look.passing ? [] : look.dials.filter((one) => one.line).map((one) => one.line);
    this.draw(picture, lines, look.size);
    if (!this.said || !this.isOn) return;
    if (look.passing) {
      this.noNumbers("passing", text("bench.moving_on"));
      return;
    }
    if (!look.found) {
      this.noNumbers("unseen", text("bench.not_found", { why: look.reason.short }));
      return;
    }
    for (const one of look.dials) {
      const place = this.dials.get(one.dial);
      place.dataset.state = one.state;
      const [value, within] = one.shown.split(" ± ");
      put(place.querySelector(".bench-value"), value || text("bench.no_number"));
      put(place.querySelector(".bench-within"), within ? `± ${within}` : "");
      put(place.querySelector(".bench-direction"), one.direction);
      const words = one.reason ? [one.reason.short] : one.flags;
      put(place.querySelector(".bench-stands"), [text(`bench.state_${one.state}`), ...words].join(", "));
    }
  }

  draw(picture, lines, size) {
    const { canvas } = this;
    if (canvas.width !== picture.width || canvas.height !== picture.height) {
      canvas.width = picture.width;
      canvas.height = picture.height;
    }
    const paper = canvas.getContext("2d");
    paper.drawImage(picture, 0, 0);
    const share = picture.width / size[0];
    const unit = Math.max(1, picture.width / 640);
    for (const [colour, width] of [
      [CASING, 4 * unit],
      [NEEDLE, 1.6 * unit],
    ]) {
      paper.strokeStyle = colour;
      paper.lineWidth = width;
      paper.lineCap = "round";
      for (const [[x0, y0], [x1, y1]] of lines) {
        paper.beginPath();
        paper.moveTo((x0 + 0.5) * share, (y0 + 0.5) * share);
        paper.lineTo((x1 + 0.5) * share, (y1 + 0.5) * share);
        paper.stroke();
      }
    }
    picture.close();
    canvas.dataset.drawn = String(Number(canvas.dataset.drawn ?? 0) + 1);
  }

  // A number that is not renewed is no number.
  noNumbers(state, words) {
    for (const place of this.dials.values()) {
      place.dataset.state = state;
      put(place.querySelector(".bench-value"), text("bench.no_number"));
      put(place.querySelector(".bench-within"), "");
      put(place.querySelector(".bench-direction"), "");
      put(place.querySelector(".bench-stands"), words);
    }
  }

  lost() {
    put(byId("bench-state"), text("bench.lost"));
    this.noNumbers("unseen", "");
  }

  wrong(sentence) {
    const line = element("p", `${sentence[0].toUpperCase()}${sentence.slice(1)}.`, "what");
    const box = document.createElement("div");
    box.className = "wrong";
    box.append(line);
    byId("bench-wrong").replaceChildren(box);
  }

  clearWrong() {
    byId("bench-wrong").replaceChildren();
  }
}

function wire(one) {
  const what = document.createElement("dd");
  if (!one.told) what.append(element("span", text("bench.nothing"), "by"));
  else {
    what.append(element("span", one.told), element("span", one.lines.join("; "), "lines"));
    if (one.by) what.append(element("span", text("bench.by", { by: one.by }), "by"));
  }
  return [element("dt", one.dial), what];
}

function cellOf(cell, state) {
  const place = document.createElement("td");
  place.className = "number";
  place.dataset.dial = cell.dial;
  place.append(element("span", cell.dial, "of"));
  if (cell.shown) place.append(element("span", cell.shown, "value"));
  else if (state === "seen" && (cell.told || cell.note)) place.append(element("span", text("bench.not_read"), "value"));
  if (cell.told) place.append(element("span", text("bench.told", { what: cell.told }), "told"));
  if (cell.note) place.append(element("span", cell.note, "note"));
  return place;
}

// A step that is no look at the needles: what it is, and what came of it.
function wholeOf(step, columns) {
  const place = document.createElement("td");
  place.colSpan = columns;
  place.className = "whole";
  const came = step.note || (step.state === "seen" ? text("bench.nothing_found") : "");
  place.append(element("span", step.words, "told"), element("span", came, "value"));
  return place;
}

function left(seconds) {
  if (seconds < 90) return text("bench.left_s", { n: Math.max(1, Math.round(seconds)) });
  return text("bench.left_min", { n: Math.round(seconds / 60) });
}

function swap(first, second, isSecond, key) {
  first.hidden = isSecond;
  second.hidden = !isSecond;
  const [shown, other] = isSecond ? [second, first] : [first, second];
  shown.dataset.key = key;
  other.removeAttribute("data-key");
}

function element(name, words, kind = "") {
  const made = document.createElement(name);
  made.textContent = words;
  if (kind) made.className = kind;
  return made;
}

function put(place, words) {
  if (place.textContent !== words) place.textContent = words;
}

function byId(id) {
  return document.getElementById(id);
}
