// Drafting a family: taps on a photo, what was found over it, undo throughout.

import { Refused, load, send, text } from "./base.js";
import { Face, angleOf } from "./drafts_face.js";
import { Fields, Pending } from "./drafts_fields.js";
import { changeOfMove, foundPanel, pickedPart } from "./drafts_found.js";
import { askWords, draftPart, keepPart, toolbar } from "./drafts_parts.js";
import { foundShapes, tappedShapes } from "./drafts_scene.js";
import { Stage } from "./drafts_stage.js";
import { PAIRS, nameField, typedPanel } from "./drafts_typed.js";

const EVERY_MS = 700;
const root = document.getElementById("draft");
const here = root.dataset.here;
const part = (id) => document.getElementById(id);
const json = (id) => JSON.parse(part(id).textContent);

class Desk {
  constructor() {
    this.state = json("draft-state");
    this.units = json("draft-units");
    this.pending = new Pending(this.state.id);
    this.fields = new Fields(this.pending);
    this.placing = null;
    this.keeping = { note: "", new_version: false };
    this.trouble = null;
    this.queue = Promise.resolve();
    this.waiting = 0;
    this.isDown = false;
    this.stage = new Stage(part("draft-view"), part("draft-stage"), part("draft-drawn"), {
      scene: (live) => this.scene(live),
      placed: (px) => this.placed(px),
      moved: (id, value) => this.moved(id, value),
      picked: () => this.render(),
      removed: (id) => {
        const [, number, place] = id.split(":");
        this.change({ kind: "DeleteMark", dial: this.state.found.dials[Number(number)].id, mark: Number(place) });
      },
    });
  }

  // One thing after the other: each is done to the draft as the one before left it.
  act(path, facts = () => ({}), field = null) {
    this.waiting += 1;
    this.note();
    this.queue = this.queue.then(async () => {
      try {
        const body = facts instanceof FormData ? { form: facts } : { json: { serial: this.state.serial, ...facts(this.state) } };
        this.state = await send(`${here}/${path}`, body);
        this.trouble = null;
        if (field) this.pending.drop(field);
      } catch (error) {
        await this.refused(error, field);
      }
      this.waiting -= 1;
      this.stage.answered();
      this.render();
      if (path === "draft" || path === "keep") this.showWrong();
      this.follow();
    });
    return this.queue;
  }

  async refused(error, field) {
    if (!(error instanceof Refused)) throw error;
    if (error.status) this.state = await load(`${here}/state`).catch(() => this.state);
    const waiting = field && this.pending.texts[field];
    if (waiting) this.pending.set(field, waiting.typed, error.message);
    else this.trouble = error.message;
  }

  type(field, edit) {
    return this.act("typed", (state) => {
      const typed = structuredClone(state.typed);
      edit(typed);
      return { typed };
    }, field);
  }

  change(change, field = null) {
    return this.act("change", () => ({ change }), field);
  }

  // What is typed and cannot be meant: it stays, with the reason beside it.
  refuse(field, typed, said) {
    this.pending.set(field, typed, said);
    this.render();
  }

  accept(field) {
    this.pending.drop(field);
    this.render();
  }

  // A text that was refused is the last thing that was done: it is taken back by itself.
  back(path) {
    const isRefused = this.trouble !== null || this.hasRefused();
    this.pending.clear();
    this.trouble = null;
    this.place(null);
    if (path === "undo" && isRefused) return;
    this.act(path);
  }

  addPhotos(input) {
    const form = new FormData();
    for (const file of input.files) form.append("photos", file, file.name);
    if (input.files.length) this.act("photos", form);
  }

  place(wanted) {
    this.placing = wanted;
    this.stage.placing = wanted !== null;
    this.stage.draw();
    this.render();
    if (wanted) part("draft-ask").scrollIntoView({ block: "nearest" });
  }

  placed(px) {
    const wanted = this.placing;
    if (!wanted) return;
    this.place(null);
    if (wanted.kind === "found-mark") {
      const { found } = this.state;
      const dial = found.dials[wanted.dial];
      const middle = (dial.marks[0].angle_deg + dial.marks.at(-1).angle_deg) / 2;
      const angle = angleOf(dial.centre_mm, new Face(found.projection).toFace(px), middle);
      this.change({ kind: "AddMark", dial: dial.id, angle_deg: angle, value: null });
      return;
    }
    const sent = this.type(null, (typed) => put(typed, wanted, px));
    sent.then(() => this.afterTap(wanted));
  }

  // A mark wants its value next; a hub its first mark.
  afterTap({ kind, key, index }) {
    if (kind === "mark") part(`typed-${key}-mark-${index}`)?.focus();
    else if (kind === "hub") this.goOn(key);
    else if (index === 0 && !this.state.typed[PAIRS[kind]][1]) this.place({ kind, index: 1 });
  }

  goOn(key) {
    this.queue.then(() => {
      const dial = this.state.typed.dials.find((one) => one.key === key);
      const index = dial?.marks.findIndex((mark) => !mark.at) ?? -1;
      if (index >= 0 && !this.placing) this.place({ kind: "mark", key, index });
    });
  }

  moved(id, value) {
    const [kind, key, index] = id.split(":");
    if (["hub", "mark", ...Object.keys(PAIRS)].includes(kind)) {
      const wanted = kind in PAIRS ? { kind, index: Number(key) } : { kind, key, index: Number(index) };
      this.type(null, (typed) => put(typed, wanted, value));
    } else {
      this.change(changeOfMove(this.state.found, id, value));
    }
  }

  scene(live) {
    const { found, typed } = this.state;
    const isTyping = !found || found.is_old || (this.placing && this.placing.kind !== "found-mark");
    return [...(found ? foundShapes(found, live) : []), ...(isTyping ? tappedShapes(typed, live) : [])];
  }

  // Asks how far a drafting is until it is done.
  follow() {
    clearTimeout(this.following);
    if (!this.state.far) return;
    this.following = setTimeout(async () => {
      const said = await load(`${here}/progress`).catch(() => null);
      if (said?.far) {
        this.state.far = said.far;
        this.render();
      } else if (said) {
        this.state = await load(`${here}/state`).catch(() => this.state);
        this.stage.draw();
        this.render();
        this.showWrong();
      }
      this.follow();
    }, EVERY_MS);
  }

  // Under the photo, which stays in view above it.
  showWrong() {
    root.querySelector("#draft-desk .wrong")?.scrollIntoView({ block: "end" });
  }

  note() {
    const line = part("draft-note");
    if (line) line.textContent = text(this.waiting ? "drafts.keeping" : this.isUnkept() ? "drafts.not_kept" : "drafts.kept");
  }

  isUnkept() {
    return this.trouble !== null || this.hasRefused();
  }

  hasRefused() {
    return Object.values(this.pending.texts).some((one) => one.said);
  }

  keep() {
    if (this.hasRefused()) {
      this.trouble = text("drafts.first_mend");
      this.render();
      this.showWrong();
      return;
    }
    this.act("keep", () => this.keeping);
  }

  // Not while something is pressed: a button drawn anew under a finger would not be pressed.
  render() {
    if (this.isDown) {
      this.isDue = true;
      return;
    }
    this.isDue = false;
    const focus = remember();
    this.fields.begin(this.state.wrongs);
    const first = this.state.photos[0];
    if (first && this.stage.photo?.id !== first.id) this.stage.size(first);
    const words = askWords(this);
    if (part("draft-ask").textContent !== words) part("draft-ask").textContent = words; // it is read out
    part("draft-bar").replaceChildren(...toolbar(this));
    part("draft-picked").replaceChildren(...[pickedPart(this, this.stage.picked)].filter(Boolean));
    part("draft-desk").replaceChildren(...this.parts());
    focus();
    this.note();
  }

  parts() {
    const { fields, state } = this;
    const isFound = state.found !== null;
    const tapped = typedPanel(this);
    const clicks = isFound && !state.found.is_old && !state.wrongs.some((one) => one.place.startsWith("dial"))
      ? fields.fold("clicks", text("drafts.clicks"), tapped) : tapped;
    const name = nameField(this);
    const found = isFound ? foundPanel(this) : null;
    const keep = isFound ? keepPart(this) : null;
    const rest = fields.wrongNotes([...(this.trouble ? [this.trouble] : []), ...fields.rest()]);
    rest?.setAttribute("role", "alert");
    const parts = isFound ? [rest, name, found, keep, clicks, draftPart(this)] : [rest, name, clicks, draftPart(this)];
    return parts.filter(Boolean);
  }
}

function put(typed, { kind, key, index }, px) {
  if (kind in PAIRS) {
    typed[PAIRS[kind]][index] = px;
    return;
  }
  const dial = typed.dials.find((one) => one.key === key);
  if (kind === "hub" && dial) dial.hub = px;
  if (kind === "mark" && dial?.marks[index]) dial.marks[index].at = px;
}

// Where the focus is, to be put back by name once everything is drawn anew.
function remember() {
  const old = document.activeElement;
  const id = root.contains(old) && !old.closest("svg") ? old.id : "";
  const span = id && old.matches("input[type=text]") ? [old.selectionStart, old.selectionEnd] : null;
  return () => {
    const now = id ? part(id) : null;
    if (!now || now === document.activeElement) return;
    now.focus({ preventScroll: true });
    if (span) now.setSelectionRange(...span);
  };
}

const desk = new Desk();
document.addEventListener("pointerdown", () => { desk.isDown = true; }, true);
for (const end of ["pointerup", "pointercancel"]) {
  document.addEventListener(end, () => setTimeout(() => {
    desk.isDown = false;
    if (desk.isDue) desk.render();
  }, 0), true);
}
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && desk.placing) desk.place(null);
  const isTyping = event.target.matches("input[type=text], textarea");
  if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || isTyping) return;
  event.preventDefault();
  desk.back(event.shiftKey ? "redo" : "undo");
});

desk.render();
desk.stage.draw();
// what was typed before a reload and had not arrived
for (const id of Object.keys(desk.pending.texts)) {
  if (id.startsWith("typed-")) part(id)?.dispatchEvent(new Event("change"));
}
desk.follow();
root.dataset.ready = "yes";
