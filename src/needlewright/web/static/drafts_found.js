// The form of what was found: every value can be typed, beside how sure it is and where it is from.

import { text } from "./base.js";
import { make, notNumber, numberOf } from "./drafts_fields.js";
import { fixed, shown } from "./drafts_scene.js";

const SOURCES = { found: "seen", between: "between", hand: "hand" };
const MEASURES = ["length_mm", "tail_mm", "base_width_mm", "tip_width_mm", "hub_radius_mm", "height_mm", "thickness_mm"];

export function foundPanel(desk) {
  const { fields, state: { found } } = desk;
  const [width, height] = found.face_size_mm.map((side) => shown(side, 1));
  const tilt = found.tilt_deg === null ? text("drafts.scan")
    : text("drafts.tilt", { tilt: found.tilt_deg.toFixed(1), u: (found.u_tilt_deg ?? 0).toFixed(1) });
  return make("section", { class: "stack" },
    make("h2", {}, text("drafts.found_heading")),
    found.is_old ? make("p", { class: "remark" }, text("drafts.is_old")) : null,
    make("p", { class: "hint" }, `${text("drafts.face", { width, height })}; ${tilt}. ${found.remarks.map(sentence).join(" ")}`),
    ...found.unseen.map((name) => make("p", { class: "remark" }, text("drafts.unseen", { name }))),
    ...found.dials.map((dial, number) => dialPart(desk, dial, number)),
    needlesPart(found),
  );
}

function sentence(words) {
  return `${words[0].toUpperCase()}${words.slice(1)}.`;
}

// A field whose number becomes a change of what was found.
function numberField(desk, facts, value, change) {
  const places = facts.places ?? 2;
  const given = fixed(value, places);
  return desk.fields.field({ ...facts, places: null, value: given, inputmode: "text" }, (typed, input) => {
    const number = numberOf(typed);
    if (number === null) desk.refuse(input.id, typed, notNumber(typed));
    else if (typed === given) desk.accept(input.id);
    else desk.change(change(number), input.id);
  });
}

function dialPart(desk, dial, number) {
  const { fields } = desk;
  const own = `found-${number}`;
  const rename = (name) => (typed, input) => {
    const now = desk.state.found.dials[number];
    const { id, quantity, unit } = now;
    desk.change({ kind: "Rename", dial: id, id, quantity, unit, [name]: typed.trim() }, input?.id ?? null);
  };
  const majors = dial.marks.filter((mark) => mark.value !== null).length;
  return make("section", { class: "panel stack draft-found", "aria-labelledby": `${own}-title` },
    make("h3", { id: `${own}-title` }, dial.id),
    fields.wrongNotes(fields.wrongsAt(`found:${number}`)),
    ...dial.remarks.map((one) => make("p", { class: "remark" }, sentence(one))),
    make("div", { class: "draft-pair" },
      fields.field({ id: `${own}-id`, label: text("drafts.id"), value: dial.id, autocapitalize: "none", place: `found:${number}:id` }, rename("id")),
      fields.choice({ id: `${own}-unit`, label: text("drafts.unit"), value: dial.unit, place: `found:${number}:unit`, options: desk.units.map((one) => [one, one]) },
        (unit) => rename("unit")(unit)),
    ),
    fields.field({ id: `${own}-quantity`, label: text("drafts.quantity"), value: dial.quantity, place: `found:${number}:quantity` }, rename("quantity")),
    centrePart(desk, dial, own),
    fields.wrongNotes(fields.wrongsAt(`found:${number}:centre`)),
    make("p", {}, `${text("drafts.majors", { n: majors, m: dial.marks.length - majors })}, ${text(`drafts.direction_${dial.direction}`)}`),
    make("div", {}, fields.button(text("drafts.add_mark"), () => desk.place({ kind: "found-mark", dial: number }), { id: `${own}-add` })),
    fields.wrongNotes(fields.wrongsAt(`found:${number}:marks`)),
    fields.fold(`${own}-marks`, text("drafts.all_marks"), marksTable(desk, dial, number)),
    needleFold(desk, dial, number),
  );
}

function centrePart(desk, dial, own) {
  const [x, y] = dial.centre_mm;
  const rms = dial.line_rms_mm.toFixed(2);
  const doubt = dial.u_centre_mm === null ? text("drafts.by_hand", { rms })
    : text("drafts.u_centre", { u: dial.u_centre_mm.toFixed(2), rms });
  const move = (at) => (value) => ({ kind: "MoveCentre", dial: dial.id, centre_mm: at(value) });
  return make("div", { class: "stack" },
    make("div", { class: "draft-pair" },
      numberField(desk, { id: `${own}-x`, label: text("drafts.centre_x") }, x, move((value) => [value, y])),
      numberField(desk, { id: `${own}-y`, label: text("drafts.centre_y") }, y, move((value) => [x, value])),
    ),
    make("p", { class: "hint" }, doubt));
}

export function markFields(desk, dial, place, own, hidden) {
  const mark = dial.marks[place];
  own = `${own}-${mark.angle_deg.toFixed(3)}`; // by its place among them it would be another one's next
  const name = mark.value === null ? text("drafts.minor") : shown(mark.value);
  const value = desk.fields.field(
    { id: `${own}-value`, label: hidden ? `${text("drafts.value")}: ${name}, ${mark.angle_deg.toFixed(1)}°` : text("drafts.value"), hidden,
      value: mark.value === null ? "" : shown(mark.value), inputmode: "text" },
    (typed, input) => {
      const number = typed.trim() ? numberOf(typed) : null;
      if (typed.trim() && number === null) desk.refuse(input.id, typed, notNumber(typed));
      else desk.change({ kind: "TypeValue", dial: dial.id, mark: place, value: number }, input.id);
    });
  const angle = numberField(desk,
    { id: `${own}-angle`, label: hidden ? `${text("drafts.angle")}: ${name}` : text("drafts.angle"), hidden },
    mark.angle_deg, (number) => ({ kind: "MoveMark", dial: dial.id, mark: place, angle_deg: number }));
  return [value, angle];
}

function marksTable(desk, dial, number) {
  const { fields } = desk;
  const rows = dial.marks.map((mark, place) => {
    const [value, angle] = markFields(desk, dial, place, `found-${number}-mark`, true);
    const from = [text(`drafts.${SOURCES[mark.source]}`), ...(mark.value === null ? [] : [text(`drafts.${mark.value_source}`)])];
    const said = mark.value === null ? mark.angle_deg.toFixed(1) : shown(mark.value);
    const remove = fields.button("×", () => desk.change({ kind: "DeleteMark", dial: dial.id, mark: place }),
      { class: "square", "aria-label": `${text("drafts.remove")}: ${said}` });
    return make("tr", {}, make("td", {}, value), make("td", {}, angle),
      make("td", { class: "number" }, mark.u_angle_deg === null ? "" : mark.u_angle_deg.toFixed(2)),
      make("td", { class: "hint" }, from.join(", ")), make("td", {}, remove));
  });
  const heads = ["value", "angle", "u", "from_where"].map((one) => make("th", { scope: "col" }, text(`drafts.${one}`)));
  const last = make("td", {});
  return make("table", { class: "draft-marks" },
    make("thead", {}, make("tr", {}, ...heads, last)), make("tbody", {}, ...rows));
}

// Open where something in it is wrong.
function needleFold(desk, dial, number) {
  const { fields, state } = desk;
  const own = `found-${number}-needle`;
  const inside = [...MEASURES, "rest"].map((name) => `found:${number}:${name}`);
  if (state.wrongs.some((wrong) => inside.includes(wrong.place))) fields.opened.add(own);
  return fields.fold(own, text("drafts.needle"), needlePart(desk, dial, number));
}

// Where each needle stands in each photo: what is read wrongly here was measured wrongly too.
function needlesPart(found) {
  if (!found.needles?.length) return null;
  const heads = [text("drafts.photo"), ...found.dials.map((dial) => dial.id)];
  const rows = found.needles.map(({ photo, needles }) => make("tr", {}, make("th", { scope: "row" }, photo),
    ...found.dials.map((dial) => {
      const one = needles.find((needle) => needle.dial === dial.id);
      if (!one) return make("td", { class: "number" }, text("drafts.not_measured"));
      const value = one.value === null ? text("drafts.off_scale") : `${shown(Number(one.value.toPrecision(3)))} ${dial.unit}`;
      return make("td", { class: "number" }, `${fixed(one.angle_deg, 1)}°`, make("span", { class: "hint" }, value));
    })));
  const table = make("table", { class: "draft-needles" },
    make("thead", {}, make("tr", {}, ...heads.map((head) => make("th", { scope: "col" }, head)))),
    make("tbody", {}, ...rows));
  const title = text("drafts.needles_in_photos");
  return make("section", { class: "stack" }, make("h3", {}, title),
    make("div", { class: "table-scroll", tabindex: "0", role: "region", "aria-label": title }, table),
    make("p", { class: "hint" }, text("drafts.needles_hint")));
}

function needlePart(desk, dial, number) {
  const { fields } = desk;
  const own = `found-${number}`;
  const measures = MEASURES.map((measure) => numberField(desk,
    { id: `${own}-${measure}`, label: text(`drafts.${measure}`), place: `found:${number}:${measure}`,
      hint: text(`drafts.${dial.needle_sources[measure] ?? "assumed"}`) },
    dial.needle[measure], (value) => ({ kind: "TypeNeedle", dial: dial.id, measure, value })));
  const rest = (angle, pin) => ({ kind: "TypeRest", dial: dial.id, angle_deg: angle, pin });
  return make("div", { class: "stack" },
    make("div", { class: "draft-pair" }, ...measures,
      numberField(desk, { id: `${own}-rest`, label: text("drafts.rest"), place: `found:${number}:rest`, hint: text(`drafts.rest_${dial.rest_source}`) }, dial.rest_angle_deg, (angle) => rest(angle, dial.rest_pin))),
    fields.tick({ id: `${own}-pin`, label: text("drafts.pin"), checked: dial.rest_pin }, (is) => desk.change(rest(dial.rest_angle_deg, is))),
    make("p", { class: "hint" }, text("drafts.rest_hint")));
}

// What was pressed on the photo, to be typed right under it.
export function pickedPart(desk, id) {
  const [kind, number, place] = (id ?? "").split(":");
  const dial = kind === "found" ? desk.state.found?.dials[Number(number)] : null;
  const mark = dial?.marks[Number(place)];
  if (!mark) return null;
  const remove = desk.fields.button(text("drafts.remove"), () =>
    desk.change({ kind: "DeleteMark", dial: dial.id, mark: Number(place) }), { id: "picked-remove" });
  return make("div", { class: "panel draft-picked" },
    make("p", { class: "label" }, text("drafts.picked", { dial: dial.id, angle: fixed(mark.angle_deg, 2) })),
    ...markFields(desk, dial, Number(place), `picked-${number}`, false),
    remove);
}

// The change that dragging a shape of the photo means.
export function changeOfMove(found, id, value) {
  const [kind, number, place] = id.split(":");
  const dial = found.dials[Number(number)];
  if (kind === "centre") return { kind: "MoveCentre", dial: dial.id, centre_mm: value };
  if (kind === "needle") return { kind: "TypeRest", dial: dial.id, angle_deg: value, pin: dial.rest_pin };
  return { kind: "MoveMark", dial: dial.id, mark: Number(place), angle_deg: value };
}
