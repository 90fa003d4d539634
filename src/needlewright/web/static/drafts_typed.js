// The form of what is tapped and typed: name, photos, dials, and how large the face is.

import { text } from "./base.js";
import { make } from "./drafts_fields.js";
import { dialName, fixed } from "./drafts_scene.js";

const FEWEST_MARKS = 2;
// Kinds of places that come in two, and where they are kept.
export const PAIRS = { end: "ends", corner: "corners", level: "level" };

export function nameField(desk) {
  const { fields, state } = desk;
  return fields.field(
    { id: "typed-name", label: text("drafts.name"), value: state.typed.name, place: "name" },
    (value, input) => desk.type(input.id, (typed) => { typed.name = value; }),
  );
}

export function typedPanel(desk) {
  const { fields, state } = desk;
  const dials = state.typed.dials.map((dial, number) => dialForm(desk, dial, number));
  return make("div", { class: "stack" },
    photosForm(desk),
    ...dials,
    fields.wrongNotes(fields.wrongsAt("dials")),
    make("div", {}, fields.button(text("drafts.add_dial"), () => addDial(desk), { id: "add-dial", main: !dials.length })),
    sizeForm(desk),
    frameForm(desk),
  );
}

// What is rarely needed: where the face ends, and which way is up.
function frameForm(desk) {
  const { fields, state: { typed } } = desk;
  const pairs = { corner: "corners", level: "level" };
  const parts = Object.entries(pairs).flatMap(([kind, name]) => [
    ...[0, 1].map((index) => placeLine(desk, text(`drafts.${kind}`, { n: index + 1 }), typed[name][index], { kind, index }, [])),
    fields.wrongNotes(fields.wrongsAt(name)),
    typed[name].some(Boolean) ? make("div", {}, fields.button(text("drafts.forget"), () =>
      desk.type(null, (now) => { now[name] = [null, null]; }), { id: `forget-${kind}` })) : null,
  ]);
  const words = make("p", { class: "hint" }, text("drafts.frame_hint"));
  if (desk.state.wrongs.some((wrong) => Object.values(pairs).includes(wrong.place))) fields.opened.add("frame");
  return fields.fold("frame", text("drafts.frame"), words, ...parts.filter(Boolean));
}

function photosForm(desk) {
  const { fields, state } = desk;
  const lines = state.photos.map((photo, number) => make("li", {},
    make("span", {}, photo.name),
    number ? fields.button(text("drafts.leave_out"), () => desk.act(`photos/${photo.id}/leave-out`), { "aria-label": `${text("drafts.leave_out")}: ${photo.name}` })
      : make("span", { class: "hint" }, text("drafts.tapped_in")),
    restTick(desk, photo, number),
  ));
  const choose = make("input", {
    id: "more-photos", type: "file", accept: "image/*", multiple: true,
    onchange: () => desk.addPhotos(choose),
  });
  return make("section", { class: "stack draft-photos" },
    make("h2", {}, text("drafts.photos")),
    make("ul", {}, ...lines),
    make("div", { class: "field" }, make("label", { for: "more-photos" }, text("drafts.add_photos")), choose),
    fields.wrongNotes(fields.wrongsAt("photos")),
    fields.tick({ id: "typed-bare", label: text("drafts.bare"), checked: state.typed.bare },
      (is) => desk.type(null, (typed) => { typed.bare = is; })),
  );
}

// Whether needles rest in a photo, and where they were seen to; a bare photo and a scan show none.
function restTick(desk, photo, number) {
  const { fields, state } = desk;
  const { typed, found } = state;
  if (!number && (typed.bare || typed.size === "dpi")) return null;
  const tick = fields.tick({ id: `rest-${photo.id}`, label: text("drafts.at_rest"), checked: typed.at_rest.includes(photo.id) },
    (is) => desk.type(null, (now) => {
      now.at_rest = [...now.at_rest.filter((one) => one !== photo.id), ...(is ? [photo.id] : [])];
    }));
  const isSaid = found && !found.is_old && found.at_rest.includes(photo.name);
  return make("div", { class: "draft-rest" }, tick, isSaid ? make("p", { class: "hint" }, restWords(found, photo)) : null);
}

function restWords(found, photo) {
  const seen = found.needles.find((one) => one.photo === photo.name)?.needles ?? [];
  if (!seen.length) return text("drafts.at_rest_none");
  const stand = seen.map((one) => `${one.dial} ${fixed(one.angle_deg, 1)}°`).join(", ");
  const others = found.dials.map((dial) => dial.id).filter((id) => !seen.some((one) => one.dial === id));
  return [text("drafts.at_rest_seen", { stand }), ...(others.length ? [text("drafts.at_rest_others", { others: others.join(", ") })] : [])].join(" ");
}

function addDial(desk) {
  const keys = new Set(desk.state.typed.dials.map((dial) => dial.key));
  let number = 1;
  while (keys.has(`d${number}`)) number += 1;
  const key = `d${number}`;
  const marks = [{ at: null, value: "" }, { at: null, value: "" }];
  desk.type(null, (typed) => typed.dials.push({ key, id: "", quantity: "", unit: "", hub: null, marks }));
  desk.place({ kind: "hub", key });
}

function dialForm(desk, dial, number) {
  const { fields } = desk;
  const at = `dial:${dial.key}`;
  const edit = (id, change) => desk.type(id, (typed) => {
    const own = typed.dials.find((one) => one.key === dial.key);
    if (own) change(own, typed);
  });
  const text_ = (name, label, more = {}) => fields.field(
    { id: `typed-${dial.key}-${name}`, label, value: dial[name], place: `${at}:${name}`, ...more },
    (value, input) => edit(input.id, (own) => { own[name] = value; }),
  );
  const marks = dial.marks.map((mark, place) => markForm(desk, dial, mark, place, edit));
  return make("fieldset", { class: "stack draft-dial" },
    make("legend", {}, dialName(dial, number)),
    fields.wrongNotes(fields.wrongsAt(at)),
    make("div", { class: "draft-pair" },
      text_("id", text("drafts.id"), { autocapitalize: "none", spellcheck: "false" }),
      fields.choice(
        { id: `typed-${dial.key}-unit`, label: text("drafts.unit"), value: dial.unit, place: `${at}:unit`,
          options: [["", text("drafts.choose")], ...desk.units.map((one) => [one, one])] },
        (value) => edit(null, (own) => { own.unit = value; }),
      ),
    ),
    placeLine(desk, text("drafts.hub"), dial.hub, { kind: "hub", key: dial.key }, fields.wrongsAt(`${at}:hub`)),
    ...marks,
    fields.wrongNotes(fields.wrongsAt(`${at}:marks`)),
    make("div", { class: "row" },
      fields.button(text("drafts.add_typed_mark"), () => {
        const index = dial.marks.length;
        edit(null, (own) => own.marks.push({ at: null, value: "" }));
        desk.place({ kind: "mark", key: dial.key, index });
      }, { id: `add-mark-${dial.key}` }),
      fields.button(text("drafts.remove_dial"), () =>
        edit(null, (own, typed) => typed.dials.splice(typed.dials.indexOf(own), 1)), { id: `remove-${dial.key}` }),
    ),
    fields.fold(`quantity-${dial.key}`, text("drafts.quantity"), text_("quantity", text("drafts.quantity"), { hint: text("drafts.quantity_hint") })),
  );
}

function markForm(desk, dial, mark, place, edit) {
  const { fields } = desk;
  const n = place + 1;
  const wrongs = fields.wrongsAt(`dial:${dial.key}:mark:${place}`);
  const value = fields.field(
    { id: `typed-${dial.key}-mark-${place}`, label: text("drafts.mark_value", { n }), value: mark.value, hidden: true,
      placeholder: text("drafts.value"), inputmode: "text" },
    (typed, input) => {
      edit(input.id, (own) => { if (own.marks[place]) own.marks[place].value = typed; });
      desk.goOn(dial.key);
    },
  );
  const remove = dial.marks.length > FEWEST_MARKS
    ? fields.button("×", () => edit(null, (own) => own.marks.splice(place, 1)), { class: "square", "aria-label": text("drafts.remove_mark", { n }) })
    : null;
  const line = placeLine(desk, text("drafts.mark", { n }), mark.at, { kind: "mark", key: dial.key, index: place }, [], value, remove);
  return make("div", {}, line, fields.wrongNotes(wrongs));
}

// A place on the photo: whether it is tapped, and a button to tap it.
function placeLine(desk, label, at, wanted, wrongs, ...more) {
  const { fields } = desk;
  const isAsked = desk.placing && JSON.stringify(desk.placing) === JSON.stringify(wanted);
  const words = text(at ? "drafts.tap_again" : "drafts.tap");
  return make("div", {},
    make("div", { class: "draft-line" },
      make("span", { class: "draft-what" }, label, " ", make("span", { class: `draft-is ${at ? "good" : ""}` }, text(at ? "drafts.is_tapped" : "drafts.is_not_tapped"))),
      ...more.filter(Boolean),
      fields.button(words, () => desk.place(wanted), { "aria-label": `${words}: ${label}`, "aria-pressed": isAsked ? "true" : "false", id: `tap-${Object.values(wanted).join("-")}` }),
    ),
    fields.wrongNotes(wrongs),
  );
}

function sizeForm(desk) {
  const { fields, state: { typed } } = desk;
  const kinds = ["dpi", "dials", "points"].map((kind) => {
    const radio = make("input", { id: `size-${kind}`, type: "radio", name: "size", value: kind, checked: typed.size === kind,
      onchange: () => desk.type(null, (now) => { now.size = kind; }) });
    return make("label", { class: "check" }, radio, " ", text(`drafts.size_${kind}`));
  });
  const own = (name, label) => fields.field(
    { id: `typed-${name}`, label, value: typed[name], place: name, inputmode: "decimal" },
    (value, input) => desk.type(input.id, (now) => { now[name] = value; }),
  );
  const parts = {
    "": () => [],
    dpi: () => [own("dpi", text("drafts.dpi"))],
    dials: () => [own("length", text("drafts.length")), betweenForm(desk)],
    points: () => [
      own("length", text("drafts.length")),
      ...[0, 1].map((index) => placeLine(desk, text("drafts.end", { n: index + 1 }), typed.ends[index], { kind: "end", index }, [])),
      fields.wrongNotes(fields.wrongsAt("ends")),
    ],
  };
  return make("fieldset", { class: "stack draft-size" },
    make("legend", {}, text("drafts.size")), ...kinds, fields.wrongNotes(fields.wrongsAt("size")), ...parts[typed.size]());
}

function betweenForm(desk) {
  const { fields, state: { typed } } = desk;
  const options = [["", text("drafts.choose")], ...typed.dials.map((dial, number) => [dial.key, dialName(dial, number)])];
  const pair = ["from", "to"].map((name, index) => fields.choice(
    { id: `size-${name}`, label: text(`drafts.${name}`), value: typed.between[index], options },
    (value) => desk.type(null, (now) => { now.between[index] = value; }),
  ));
  return make("div", {}, make("div", { class: "draft-pair" }, ...pair), fields.wrongNotes(fields.wrongsAt("between")));
}
