// What stands about the photo and under the forms: what to do now, the tools, drafting and keeping.

import { text } from "./base.js";
import { make } from "./drafts_fields.js";
import { dialName } from "./drafts_scene.js";
import { PAIRS } from "./drafts_typed.js";

export function toolbar(desk) {
  const { fields, state, stage } = desk;
  const say = (name) => text(`drafts.${name}`);
  const tools = [
    fields.button(say("undo"), () => desk.back("undo"), { id: "draft-undo", disabled: !state.can_undo && !desk.isUnkept(), "data-key": "u" }),
    fields.button(say("redo"), () => desk.back("redo"), { id: "draft-redo", disabled: !state.can_redo, "data-key": "r" }),
    fields.button("−", () => stage.step(-1), { id: "draft-farther", class: "square", "aria-label": say("farther") }),
    fields.button("+", () => stage.step(1), { id: "draft-nearer", class: "square", "aria-label": say("nearer") }),
  ];
  if (desk.placing) {
    tools.push(
      fields.button(say("centre"), () => desk.placed(stage.middle()), { id: "draft-centre" }),
      fields.button(say("leave"), () => desk.place(null), { id: "draft-leave" }),
    );
  }
  tools.push(make("span", { class: "hint", id: "draft-note", role: "status" }));
  return tools;
}

export function askWords(desk) {
  const { found, typed, far, wrongs } = desk.state;
  const wanted = desk.placing;
  if (wanted && wanted.kind in PAIRS) return text(`drafts.ask_${wanted.kind}`);
  if (wanted?.kind === "found-mark") return text("drafts.ask_found_mark", { dial: found.dials[wanted.dial].id });
  if (wanted) {
    const number = typed.dials.findIndex((one) => one.key === wanted.key);
    const dial = number < 0 ? text("drafts.this_dial") : dialName(typed.dials[number], number);
    if (wanted.kind === "hub") return text("drafts.ask_hub", { dial });
    return text("drafts.ask_mark", { dial, which: text(`drafts.${["first", "last"][wanted.index] ?? "next"}`) });
  }
  if (far) return text(far.doing === "waiting" ? "drafts.far_waiting" : "drafts.far_going"); // read out once
  if (wrongs.length) return text("drafts.ask_wrong");
  if (found && !found.is_old) return text("drafts.ask_look");
  if (!typed.dials.length) return text("drafts.ask_dial");
  const isOpen = typed.dials.some((dial) => dial.marks.some((mark) => mark.at && !mark.value));
  return text(isOpen ? "drafts.ask_value" : "drafts.ask_draft");
}

// Marks are looked at dial after dial, several times over; needles and photos once each.
function farWords(desk) {
  const { far: { doing, done, of }, typed: { dials } } = desk.state;
  const name = (number) => (dials[number] ? dialName(dials[number], number) : text("drafts.this_dial"));
  const next = Math.min(done, Math.max(of - 1, 0));
  if (["marks", "again"].includes(doing) && dials.length) {
    const facts = { dial: name(next % dials.length), n: Math.floor(next / dials.length) + 1, of: Math.ceil(of / dials.length) };
    return text(`drafts.far_${doing}`, facts);
  }
  return text(`drafts.far_${doing}`, { dial: name(next), n: next + 1, of });
}

function leftWords({ left_s: left, since_s: since }) {
  const spent = text("drafts.since", { s: Math.round(since) });
  if (left === null) return spent;
  const s = left > 12 ? 5 * Math.round(left / 5) : Math.max(1, Math.round(left));
  return `${text("drafts.left", { s })}; ${spent}`;
}

export function draftPart(desk) {
  const { fields, state } = desk;
  if (state.far) {
    return make("div", { class: "stack draft-far" },
      make("label", { for: "draft-progress" }, farWords(desk)),
      make("progress", { id: "draft-progress", max: 1, value: state.far.doing === "waiting" ? null : state.far.share }),
      make("p", { class: "hint" }, `${leftWords(state.far)}. ${text("drafts.stop_hint")}`),
      make("div", {}, fields.button(text("drafts.stop"), () => desk.act("stop"), { id: "draft-stop" })));
  }
  const isNew = !state.found;
  const isMain = state.typed.dials.length > 0 && (isNew || state.found.is_old);
  return make("div", { class: "stack" },
    make("div", {}, fields.button(text(isNew ? "drafts.draft" : "drafts.draft_again"), () => desk.act("draft"), { id: "draft-do", main: isMain })),
    state.found?.changes ? make("p", { class: "hint" }, text("drafts.replaces")) : null);
}

export function keepPart(desk) {
  const { fields, state } = desk;
  const { saved } = state;
  const note = make("input", { id: "keep-note", type: "text", maxlength: 2000, value: desk.keeping.note, oninput: () => { desk.keeping.note = note.value; } });
  return make("section", { class: "panel stack", "aria-labelledby": "keep-title" },
    make("h2", { id: "keep-title" }, text("drafts.keep_heading")),
    saved ? make("p", { class: "is-saved-note" }, text("drafts.is_kept", saved), " ", make("a", { href: `/families/${saved.version_id}` }, text("drafts.see"))) : null,
    saved && !saved.is_current ? make("p", { class: "remark" }, text("drafts.kept_before")) : null,
    make("div", { class: "field" }, make("label", { for: "keep-note" }, text("drafts.note")), note),
    fields.tick({ id: "keep-new", label: text("drafts.new_version"), checked: desk.keeping.new_version }, (is) => { desk.keeping.new_version = is; }),
    make("div", {}, fields.button(text("drafts.keep"), () => desk.keep(), { id: "draft-keep", main: !state.found.is_old && !state.far })));
}
