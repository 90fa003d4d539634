// Drafting a family: taps on a photo, what was found over it, undo throughout.

import { Refused, load, send, text } from "./base.js";
import { Face, angleOf } from "./drafts_face.js";
import { Fields, Pending, make } from "./drafts_fields.js";
import { changeOfMove, foundPanel, pickedPart } from "./drafts_found.js";
import { dialName, foundShapes, tappedShapes } from "./drafts_scene.js";
import { Stage } from "./drafts_stage.js";
import { nameField, typedPanel } from "./drafts_typed.js";

const EVERY_MS = 700;
const PAIRS = { end: "ends", corner: "corners", level: "level" };
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
    part("draft-ask").textContent = this.ask();
    part("draft-bar").replaceChildren(...this.bar());
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
    const keep = isFound ? this.keepPart() : null;
    const rest = fields.wrongNotes([...(this.trouble ? [this.trouble] : []), ...fields.rest()]);
    rest?.setAttribute("role", "alert");
    const parts = isFound ? [rest, name, found, keep, clicks, this.draftPart()] : [rest, name, clicks, this.draftPart()];
    return parts.filter(Boolean);
  }

  bar() {
    const { fields, state, stage } = this;
    const say = (name) => text(`drafts.${name}`);
    const tools = [
      fields.button(say("undo"), () => this.back("undo"), { id: "draft-undo", disabled: !state.can_undo && !this.isUnkept(), "data-key": "u" }),
      fields.button(say("redo"), () => this.back("redo"), { id: "draft-redo", disabled: !state.can_redo, "data-key": "r" }),
      fields.button("−", () => stage.step(-1), { id: "draft-farther", class: "square", "aria-label": say("farther") }),
      fields.button("+", () => stage.step(1), { id: "draft-nearer", class: "square", "aria-label": say("nearer") }),
    ];
    if (this.placing) {
      tools.push(
        fields.button(say("centre"), () => this.placed(stage.middle()), { id: "draft-centre" }),
        fields.button(say("leave"), () => this.place(null), { id: "draft-leave" }),
      );
    }
    tools.push(make("span", { class: "hint", id: "draft-note", role: "status" }));
    return tools;
  }

  ask() {
    const { found, typed, far, wrongs } = this.state;
    const wanted = this.placing;
    if (wanted && wanted.kind in PAIRS) return text(`drafts.ask_${wanted.kind}`);
    if (wanted?.kind === "found-mark") return text("drafts.ask_found_mark", { dial: found.dials[wanted.dial].id });
    if (wanted) {
      const number = typed.dials.findIndex((one) => one.key === wanted.key);
      const dial = number < 0 ? text("drafts.this_dial") : dialName(typed.dials[number], number);
      if (wanted.kind === "hub") return text("drafts.ask_hub", { dial });
      return text("drafts.ask_mark", { dial, which: text(`drafts.${["first", "last"][wanted.index] ?? "next"}`) });
    }
    if (far) return this.farWords();
    if (wrongs.length) return text("drafts.ask_wrong");
    if (found && !found.is_old) return text("drafts.ask_look");
    if (!typed.dials.length) return text("drafts.ask_dial");
    const isOpen = typed.dials.some((dial) => dial.marks.some((mark) => mark.at && !mark.value));
    return text(isOpen ? "drafts.ask_value" : "drafts.ask_draft");
  }

  farWords() {
    const { doing, done, of } = this.state.far;
    const say = { waiting: "drafts.far_waiting", opening: "drafts.far_opening", finding: "drafts.far_finding", writing: "drafts.far_writing" };
    return text(say[doing], { n: done + 1, of });
  }

  draftPart() {
    const { fields, state } = this;
    if (state.far) {
      return make("div", { class: "stack draft-far", role: "status" },
        make("label", { for: "draft-progress" }, this.farWords()),
        make("progress", { id: "draft-progress" }),
        make("p", { class: "hint" }, text("drafts.since", { s: Math.round(state.far.since_s) })),
        make("div", {}, fields.button(text("drafts.stop"), () => this.act("stop"), { id: "draft-stop" })));
    }
    const isNew = !state.found;
    const isMain = state.typed.dials.length > 0 && (isNew || state.found.is_old);
    return make("div", { class: "stack" },
      make("div", {}, fields.button(text(isNew ? "drafts.draft" : "drafts.draft_again"), () => this.act("draft"), { id: "draft-do", main: isMain })),
      state.found?.changes ? make("p", { class: "hint" }, text("drafts.replaces")) : null);
  }

  keepPart() {
    const { fields, state } = this;
    const { saved } = state;
    const note = make("input", { id: "keep-note", type: "text", maxlength: 2000, value: this.keeping.note, oninput: () => { this.keeping.note = note.value; } });
    return make("section", { class: "panel stack", "aria-labelledby": "keep-title" },
      make("h2", { id: "keep-title" }, text("drafts.keep_heading")),
      saved ? make("p", { class: "is-saved-note" }, text("drafts.is_kept", saved), " ", make("a", { href: `/families/${saved.version_id}` }, text("drafts.see"))) : null,
      saved && !saved.is_current ? make("p", { class: "remark" }, text("drafts.kept_before")) : null,
      make("div", { class: "field" }, make("label", { for: "keep-note" }, text("drafts.note")), note),
      fields.tick({ id: "keep-new", label: text("drafts.new_version"), checked: this.keeping.new_version }, (is) => { this.keeping.new_version = is; }),
      make("div", {}, fields.button(text("drafts.keep"), () => this.keep(), { id: "draft-keep", main: !state.found.is_old && !state.far })));
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
