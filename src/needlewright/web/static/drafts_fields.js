// Pieces of the forms beside the photo. What is typed is remembered by this browser until the
// workbench has it, so that neither an error nor a reload takes it away.

import { text } from "./base.js";

const LEAVES = ["Enter"];

export function make(tag, facts = {}, ...inside) {
  const one = document.createElement(tag);
  for (const [name, value] of Object.entries(facts)) {
    if (value === false || value === null || value === undefined) continue;
    if (name.startsWith("on")) one.addEventListener(name.slice(2), value);
    else if (name === "value" || name === "checked") one[name] = value;
    else one.setAttribute(name, value === true ? "" : value);
  }
  one.append(...inside.filter((part) => part !== null && part !== undefined && part !== false));
  return one;
}

export class Pending {
  constructor(draft) {
    this.key = `needlewright.draft.${draft}`;
    this.texts = JSON.parse(sessionStorage.getItem(this.key) ?? "{}");
  }

  set(id, typed, said = "") {
    this.texts[id] = { typed, said };
    this.keep();
  }

  drop(id) {
    delete this.texts[id];
    this.keep();
  }

  clear() {
    this.texts = {};
    this.keep();
  }

  keep() {
    sessionStorage.setItem(this.key, JSON.stringify(this.texts));
  }
}

export class Fields {
  constructor(pending) {
    this.pending = pending;
    this.wrongs = [];
    this.opened = new Set();
  }

  // Before everything is drawn anew: what is wrong now.
  begin(wrongs) {
    this.wrongs = wrongs.map((wrong) => ({ ...wrong, isShown: false }));
  }

  wrongsAt(place) {
    const here = this.wrongs.filter((wrong) => wrong.place === place);
    for (const wrong of here) wrong.isShown = true;
    return here.map((wrong) => wrong.what);
  }

  // What stands beside no place of its own.
  rest() {
    return this.wrongs.filter((wrong) => !wrong.isShown).map((wrong) => wrong.what);
  }

  wrongNotes(sentences, id = null) {
    if (!sentences.length) return null;
    const lines = sentences.map((one) =>
      make("p", { class: "what" }, make("span", { class: "sign", "aria-hidden": "true" }, "!"), one));
    return make("div", { class: "wrong", id }, ...lines);
  }

  // `commit(typed)` is called when the field is left.
  field({ id, label, value, place, hidden = false, hint = null, ...facts }, commit) {
    const waiting = this.pending.texts[id];
    const said = [...(place ? this.wrongsAt(place) : []), ...(waiting?.said ? [waiting.said] : [])];
    const noteId = said.length ? `${id}-wrong` : null;
    const input = make("input", {
      id, type: "text", autocomplete: "off", value: waiting?.typed ?? value, maxlength: 200,
      "aria-invalid": said.length ? "true" : null, "aria-describedby": noteId, ...facts,
      oninput: () => this.pending.set(id, input.value),
      onchange: () => commit(input.value, input),
      onkeydown: (event) => {
        if (LEAVES.includes(event.key)) input.blur();
      },
    });
    const name = make("label", { for: id, class: hidden ? "visually-hidden" : null }, label);
    const under = hint ? make("p", { class: "hint" }, hint) : null;
    return make("div", { class: "field" }, name, input, under, this.wrongNotes(said, noteId));
  }

  choice({ id, label, value, place, options }, commit) {
    const said = place ? this.wrongsAt(place) : [];
    const noteId = said.length ? `${id}-wrong` : null;
    const select = make("select", {
      id, "aria-invalid": said.length ? "true" : null, "aria-describedby": noteId,
      onchange: () => commit(select.value),
    }, ...options.map(([key, words]) => make("option", { value: key, selected: key === value }, words)));
    return make("div", { class: "field" }, make("label", { for: id }, label), select, this.wrongNotes(said, noteId));
  }

  tick({ id, label, checked }, commit) {
    const box = make("input", { id, type: "checkbox", checked, onchange: () => commit(box.checked) });
    return make("label", { class: "check" }, box, " ", label);
  }

  button(words, act, facts = {}) {
    const { main = false, class: extra = "", ...others } = facts;
    return make("button", { type: "button", class: `button${main ? " main" : ""} ${extra}`.trim(), ...others, onclick: act }, words);
  }

  // A part that stays open or shut while everything about it is drawn anew.
  fold(id, words, ...inside) {
    const part = make("details", { open: this.opened.has(id) }, make("summary", { id: `${id}-fold` }, words), ...inside);
    part.addEventListener("toggle", () => {
      if (part.open) this.opened.add(id);
      else this.opened.delete(id);
    });
    return part;
  }
}

const GROUPS = /^[+-]?[1-9]\d{0,2}(?:[ \u00a0\u2009\u202f]\d{3})+(?![\d ])/;
const COMMA = /^([+-]?)(\d*),(\d+)$/;
const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?$/i;

// A number as people type it, by the rule of the workbench; null where it is none, or two.
export function numberOf(typed) {
  const comma = COMMA.exec(bare(typed));
  if (comma && couldBeThousands(comma)) return null;
  const plain = comma ? `${comma[1]}${comma[2]}.${comma[3]}` : bare(typed);
  return NUMBER.test(plain) && Number.isFinite(Number(plain)) ? Number(plain) : null;
}

// Why what was typed is no number.
export function notNumber(typed) {
  const comma = COMMA.exec(bare(typed));
  if (!comma || !couldBeThousands(comma)) return text("drafts.not_number");
  const [, sign, before, behind] = comma;
  const point = `${sign}${before}.${behind.replace(/0+$/, "") || "0"}`;
  return text("drafts.two_ways", { typed: bare(typed), whole: `${sign}${before}${behind}`, point });
}

// Without the blanks between its thousands.
function bare(typed) {
  return typed.trim().replace("−", "-").replace(GROUPS, (digits) => digits.replace(/\D(?=\d{3})/g, (one) => "+-".includes(one) ? one : ""));
}

function couldBeThousands([, , before, behind]) {
  return behind.length === 3 && before.length > 0 && before.length <= 3 && !before.startsWith("0");
}
