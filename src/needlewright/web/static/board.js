// The inspection of a board: pins on its photos, before beside after, what changed between them.

import { Refused, load, send, text } from "./base.js";
import { keepAdding } from "./board_adding.js";
import { Stage } from "./board_stage.js";

const STEP = 1.5;
const WELL_PX = 3; // of scatter; beyond it a fine change may be one of the laying over
const CLEAR_PX = 12; // between a pin and what lies over the photo
const part = (id) => document.getElementById(id);
const root = part("board");
const { here, side, pair } = root.dataset;

class Board {
  constructor() {
    this.state = JSON.parse(part("board-state").textContent);
    this.picked = null;
    this.pending = null;
    this.brush = { what: null, state: null, part: null, dial: null };
    this.compared = null;
    this.takenBack = null;
    this.showsChanges = true;
    this.queue = Promise.resolve();
    const told = {
      tapped: (stage, x, y) => this.begin({ photo: stage.photo, x, y }),
      picked: (number) => this.pick(number),
      moved: (number, x, y) => this.change(number, { x, y }),
      answered: (number) => this.answer(number),
      removed: (number) => this.act(`pins/${number}/off`),
      redraw: () => this.draw(),
    };
    this.stages = [...root.querySelectorAll(".board-stage")].map((one) => new Stage(one, told));
    this.listen();
    this.render();
    this.compare();
  }

  stageOf(moment) {
    return this.stages.find((one) => one.stage.closest(".board-pane")?.dataset.moment === moment);
  }

  pin(number) {
    return this.state.pins.find((one) => one.number === number) ?? null;
  }

  // One thing after the other; what is refused is said, and the page shows what is kept.
  act(path, json = {}) {
    this.queue = this.queue.then(async () => {
      try {
        const { undo } = this.state;
        this.take(await send(`${here}/${path}`, { json }));
        this.takenBack = path === "undo" ? undo.what : null;
        this.say("");
      } catch (error) {
        if (!(error instanceof Refused)) throw error;
        this.say(error.message);
        if (error.status) this.take(await load(`${here}/state`).catch(() => this.state));
      }
      this.render();
    });
    return this.queue;
  }

  take(state) {
    this.state = state;
    if (state.picked) this.picked = state.picked;
    if (this.picked && !this.pin(this.picked)) this.picked = null;
  }

  say(words) {
    const place = part("board-wrong");
    if (!words) {
      place.replaceChildren();
      return;
    }
    const note = document.createElement("p");
    note.className = "wrong";
    note.setAttribute("role", "alert");
    note.textContent = words;
    place.replaceChildren(note);
    note.scrollIntoView({ block: "nearest" });
  }

  // A place was pointed at: kept at once where it is known what and how, else asked.
  begin(place) {
    this.picked = null;
    this.pending = place;
    this.render();
    this.settlePending();
  }

  settlePending() {
    const { pending, brush } = this;
    if (!pending || !brush.what || !brush.state) return;
    this.pending = null;
    const { photo, ...at } = pending;
    this.act("pins", { photo, pin: { ...brush, ...at } });
  }

  change(number, pin) {
    this.act(`pins/${number}`, { pin, seen: this.state.version });
  }

  pick(number) {
    this.pending = null;
    this.picked = number;
    this.render();
  }

  // What became of a pin: one at the same place of the photo from after the work.
  answer(number) {
    const first = this.pin(number);
    const stage = this.stageOf("after");
    if (!first || !stage) return;
    const [x, y] = this.onAfter(first);
    const { what, part: belongs, dial } = first;
    const state = first.state === "removed" ? "restored" : "ok";
    this.act("pins", { photo: stage.photo, pin: { what, state, part: belongs, dial, x, y, of: number } });
  }

  onAfter({ x, y }) {
    const m = this.compared?.to_after;
    if (!m) return [x, y];
    const [u, v, w] = m.map((row) => row[0] * x + row[1] * y + row[2]);
    return [u / w, v / w].map((share) => Math.min(Math.max(share, 0), 1));
  }

  async compare() {
    if (!pair) return;
    const line = part("board-compared");
    try {
      this.compared = await load(`${here}/compare/${pair}`);
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      line.textContent = "";
      this.say(error.message);
      part("board-wipe").disabled = part("board-changes").disabled = true;
      root.dataset.compared = "refused";
      return;
    }
    const { places } = this.compared;
    line.textContent = places.length
      ? text("board.places", { n: places.length, how: text(this.compared.scatter_px <= WELL_PX ? "board.how.well" : "board.how.roughly") })
      : text("board.none");
    part("board-why").hidden = false;
    part("board-why").querySelector("p").textContent = text("board.lie", { points: this.compared.points, px: this.compared.scatter_px.toFixed(2) });
    this.draw();
    this.keepInView(); // the lines that were written above have moved the photo
    root.dataset.compared = "yes";
  }

  draw() {
    const places = this.showsChanges ? this.compared?.places ?? [] : [];
    const answered = new Set(this.state.pins.map((one) => one.of));
    const shown = this.stageOf("before")?.photo;
    for (const stage of this.stages) {
      const isAfter = stage === this.stageOf("after");
      const pins = this.state.pins.filter((one) => one.photo === stage.photo && one.x !== null);
      const open = (one) => one.photo === shown && one.x !== null && one.of === null && one.state !== "ok" && !answered.has(one.number);
      const ghosts = isAfter && this.compared ? this.state.pins.filter(open) : [];
      stage.draw({
        pins,
        ghosts: ghosts.map((one) => ({ ...one, x: this.onAfter(one)[0], y: this.onAfter(one)[1] })),
        places: isAfter ? places.map((one) => one.after) : places,
        picked: this.picked,
        pending: this.pending?.photo === stage.photo ? this.pending : null,
      });
    }
  }

  render() {
    this.draw();
    this.renderEditor();
    this.renderSaved();
    const says = new DOMParser().parseFromString(this.state.says, "text/html");
    const focused = document.activeElement?.dataset?.pick;
    part("board-says").replaceChildren(...says.body.children);
    if (focused) part("board-says").querySelector(`[data-pick="${focused}"]`)?.focus({ preventScroll: true });
    this.keepInView();
  }

  // What was saved last, and what was taken back just now.
  renderSaved() {
    const { undo } = this.state;
    const back = this.takenBack ? text("board.taken_back", { what: this.takenBack }) : "";
    const saved = undo ? text(undo.by ? "board.saved_by" : "board.saved", undo) : "";
    const line = part("board-saved").querySelector("p");
    const said = [back, saved].filter(Boolean).join(" ");
    if (line.textContent !== said) line.textContent = said;
    part("board-saved").hidden = !said;
    const button = part("board-undo");
    button.hidden = !undo;
    if (undo) button.setAttribute("aria-label", text("board.undo", undo));
  }

  // The pin that is spoken of is not left under what asks about it, where that lies over the photo.
  keepInView() {
    const foot = part("board-foot");
    const pin = root.querySelector(".board-pane:not([hidden]) :is(.pin.pending, .pin[aria-pressed=true])");
    if (!pin || foot.hidden || part("board-pin").hasAttribute("data-idle")) return;
    const over = foot.getBoundingClientRect();
    const { left, right, bottom } = pin.getBoundingClientRect();
    const isBeside = left > over.right || right < over.left;
    // what has grown just now still stands where its top was, and will end at the screen's edge
    const under = bottom + CLEAR_PX - Math.min(over.top, innerHeight - over.height);
    if (!isBeside && under > 0 && bottom < over.bottom) scrollBy(0, under);
  }

  renderEditor() {
    const pin = this.pin(this.picked);
    const shown = pin ?? this.brush;
    const isWiped = part("board-over")?.hidden === false;
    part("board-pin").hidden = isWiped || !this.stages.some((one) => one.photo);
    part("board-middle").hidden = part("board-pin").hidden;
    part("board-foot").hidden = isWiped;
    part("board-pin").toggleAttribute("data-idle", !pin && !this.pending);
    const asks = pin ? `${text("board.picked", { number: pin.number })}: ${pin.words}` : text(this.pending ? "board.choose_both" : "board.tap");
    if (part("board-ask").textContent !== asks) part("board-ask").textContent = asks;
    for (const one of root.querySelectorAll("[data-what]")) one.setAttribute("aria-pressed", String(one.dataset.what === shown.what));
    for (const one of root.querySelectorAll(".board-choices [data-state]")) {
      one.setAttribute("aria-pressed", String(one.dataset.state === shown.state));
      if ("coating" in one.dataset) one.hidden = shown.what !== "coating";
    }
    part("board-part").value = shown.part === "movement" ? `movement:${shown.dial}` : shown.part ?? "";
    part("board-note-field").hidden = !pin;
    if (document.activeElement !== part("board-note")) part("board-note").value = pin?.note ?? "";
    part("board-remove").hidden = !pin;
    const hasAnswer = pin && this.state.pins.some((one) => one.of === pin.number);
    part("board-became").hidden = !(pin && pin.of === null && pin.state !== "ok" && pin.x !== null && !hasAnswer && this.stageOf("after"));
  }

  // A large button: of the pin that is picked, else of the next one.
  choose(facts) {
    const pin = this.pin(this.picked);
    const was = pin ?? this.brush;
    const what = facts.what ?? was.what;
    if (facts.what && what !== "coating" && ["removed", "restored"].includes(was.state)) facts.state = pin ? "ok" : null;
    Object.assign(this.brush, { what: was.what, state: was.state, part: was.part, dial: was.dial }, facts);
    if (pin) this.change(pin.number, facts);
    else {
      this.render();
      this.settlePending();
    }
  }

  listen() {
    root.addEventListener("click", (event) => {
      const one = event.target.closest("button");
      if (!one) return;
      if (one.dataset.what) this.choose({ what: one.dataset.what });
      else if (one.dataset.state && one.closest(".board-choices")) this.choose({ state: one.dataset.state });
      else if (one.dataset.pick) this.show(Number(one.dataset.pick));
      else if (one.dataset.all) this.allSound(one);
    });
    part("board-part").addEventListener("change", (event) => {
      const [belongs, ...dial] = event.target.value.split(":");
      this.choose({ part: belongs || null, dial: dial.join(":") || null });
    });
    part("board-note").addEventListener("change", (event) => {
      if (this.picked) this.change(this.picked, { note: event.target.value });
    });
    part("board-remove").addEventListener("click", () => this.act(`pins/${this.picked}/off`));
    part("board-became").addEventListener("click", () => this.answer(this.picked));
    part("board-middle").addEventListener("click", () => {
      const stage = this.stageOf("before") ?? this.stageOf("after");
      const [x, y] = stage.middle();
      this.begin({ photo: stage.photo, x, y });
    });
    part("board-undo").addEventListener("click", () => this.undo());
    part("board-nearer").addEventListener("click", () => this.zoom(STEP));
    part("board-farther").addEventListener("click", () => this.zoom(1 / STEP));
    part("board-changes")?.addEventListener("click", (event) => {
      this.showsChanges = !this.showsChanges;
      event.target.setAttribute("aria-pressed", String(this.showsChanges));
      this.draw();
    });
    part("board-wipe")?.addEventListener("click", () => this.wipe());
    part("board-share")?.addEventListener("input", () => this.wipeTo());
    document.addEventListener("keydown", (event) => this.key(event));
  }

  key(event) {
    const isTyping = event.target.matches("input[type=text], textarea, select");
    if (event.key === "Escape") {
      this.pending = null;
      this.picked = null;
      this.render();
    }
    if (isTyping || !(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z") return;
    event.preventDefault();
    this.undo();
  }

  undo() {
    if (this.pending) {
      this.pending = null;
      this.render();
    } else if (this.state.undo) this.act("undo", { seen: this.state.version });
  }

  zoom(times) {
    for (const stage of this.stages) stage.nearer(times);
  }

  wipe() {
    const over = part("board-over");
    over.hidden = !over.hidden;
    for (const pane of root.querySelectorAll(".board-pane")) pane.hidden = !over.hidden;
    part("board-wipe").setAttribute("aria-pressed", String(!over.hidden));
    const after = over.querySelector(".board-laid");
    if (!after.src) after.src = `${here}/laid/${pair}.jpg`;
    this.wipeTo();
    root.toggleAttribute("data-wiped", !over.hidden);
    this.renderEditor();
    this.draw();
  }

  wipeTo() {
    const share = Number(part("board-share").value);
    part("board-over").querySelector(".board-laid").style.clipPath = `inset(0 0 0 ${share}%)`;
  }

  // A pin of the list: shown on its photo where that is on the page, else on its own side.
  show(number) {
    const pin = this.pin(number);
    const stage = this.stages.find((one) => one.photo === pin.photo);
    this.pick(number);
    if (stage && !part("board-over")?.hidden && part("board-over")) this.wipe();
    if (stage) stage.show(number);
    else location.assign(`${here}?side=${pin.side}&${pin.moment}=${pin.photo}#board`);
  }

  // All of a kind on a side: without a place of its own.
  allSound(button) {
    const { all: what, side: where } = button.dataset;
    const photos = [...root.querySelectorAll(".board-pane .board-stage")];
    const first = photos.find((one) => one.closest(".board-pane").dataset.moment === "before");
    if (first && (!where || where === side)) {
      button.disabled = true; // until what is kept is shown in its place
      this.act("pins", { photo: Number(first.dataset.photo), pin: { what, state: "ok" } });
    } else if (where && where !== side) location.assign(`${here}?side=${where}`);
    else this.say(text("board.photo_first"));
  }
}

new Board();
keepAdding(root);
root.dataset.ready = "yes";
