// What is drawn over the photo: taps, and what was found. Plain shapes in pixels of the photo.

import { text } from "./base.js";
import { Face, angleOf, markLine, needleOutline, onCircle } from "./drafts_face.js";

const BESIDE = 1.09; // a value stands so far out, in radii of its mark's outer end
const FINE = { px: 1, mm: 0.05, deg: 0.05 };
const COARSE = { px: 10, mm: 0.5, deg: 0.5 };
const WAYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

export function dialName(dial, number) {
  return dial.id.trim() || text("drafts.dial", { n: number + 1 });
}

// A shape: `id`, `label` for those who do not see it, `kind` as styled, `grab` where it is taken
// hold of, `lines` and `outline` as drawn, `words`; `moved(px, old)` gives its value at a pixel.
export function tappedShapes(typed, live) {
  const shapes = [];
  const add = (id, at, kind, label, words) => {
    if (!at) return;
    const here = live?.id === id ? live.value : at;
    shapes.push({
      id, kind, label, words, value: here, grab: here, unit: "px",
      moved: (px) => px,
    });
  };
  typed.dials.forEach((dial, number) => {
    const name = dialName(dial, number);
    add(`hub:${dial.key}`, dial.hub, "tapped hub", text("drafts.point_hub", { dial: name }), name);
    dial.marks.forEach((mark, place) => {
      const words = mark.value || "?";
      add(`mark:${dial.key}:${place}`, mark.at, "tapped", text("drafts.point_typed", { dial: name, value: words }), words);
    });
  });
  const pairs = [["end", typed.size === "points" ? typed.ends : []], ["corner", typed.corners], ["level", typed.level]];
  for (const [kind, pair] of pairs) {
    pair.forEach((at, place) => {
      const label = text(`drafts.point_${kind}`, { n: place + 1 });
      add(`${kind}:${place}`, at, `tapped ${kind}`, label, text(`drafts.${kind}`, { n: place + 1 }));
    });
  }
  return shapes;
}

export function foundShapes(found, live) {
  const face = new Face(found.projection);
  return found.dials.flatMap((dial, number) => dialShapes(dial, number, face, live));
}

function dialShapes(dial, number, face, live) {
  const now = (id, value) => (live?.id === id ? live.value : value);
  const put = (mm) => face.toPhoto(mm);
  const shapes = [];
  const rest = now(`needle:${number}`, dial.rest_angle_deg);
  shapes.push({
    id: `needle:${number}`, kind: "needle", unit: "deg", value: rest,
    label: text("drafts.point_needle", { dial: dial.id }),
    outline: needleOutline(dial, rest).map(put),
    grab: put(onCircle(dial.centre_mm, rest, dial.needle.length_mm * 0.72)),
    moved: (px, old) => angleOf(dial.centre_mm, face.toFace(px), old),
  });
  dial.marks.forEach((mark, place) => shapes.push(markShape(dial, number, mark, place, face, now)));
  const centre = now(`centre:${number}`, dial.centre_mm);
  const arm = 0.05 * Math.max(...dial.marks.map((mark) => mark.outer_mm));
  const across = ([dx, dy]) => [put([centre[0] - dx, centre[1] - dy]), put([centre[0] + dx, centre[1] + dy])];
  shapes.push({
    id: `centre:${number}`, kind: "centre", unit: "mm", value: centre,
    label: text("drafts.point_centre", { dial: dial.id }), words: dial.id,
    lines: [across([arm, 0]), across([0, arm])],
    grab: put(centre),
    moved: (px) => face.toFace(px),
  });
  return shapes;
}

function markShape(dial, number, mark, place, face, now) {
  const id = `found:${number}:${place}`;
  const angle = now(id, mark.angle_deg);
  const at = (radius) => face.toPhoto(onCircle(dial.centre_mm, angle, radius));
  const valued = mark.value !== null;
  const named = valued ? shown(mark.value) : "";
  return {
    id, unit: "deg", value: angle, removable: true,
    kind: `mark ${valued ? "major" : "minor"} ${mark.source}`,
    label: valued
      ? text("drafts.point_mark", { dial: dial.id, value: named })
      : text("drafts.point_minor", { dial: dial.id, angle: mark.angle_deg.toFixed(1) }),
    lines: [markLine(dial.centre_mm, mark, angle).map((end) => face.toPhoto(end))],
    grab: at((mark.inner_mm + mark.outer_mm) / 2),
    words: named, wordsAt: at(mark.outer_mm * BESIDE),
    moved: (px, old) => angleOf(dial.centre_mm, face.toFace(px), old),
  };
}

export function shown(number, places = 6) {
  return String(Number(number.toFixed(places))).replace("-", "−");
}

export function fixed(number, places) {
  return number.toFixed(places).replace("-", "−");
}

// Where an arrow key moves a shape to; undefined: the key means nothing to it.
export function nudged(shape, key, isFar) {
  const way = WAYS[key];
  if (!way) return undefined;
  const step = (isFar ? COARSE : FINE)[shape.unit];
  if (shape.unit === "deg") return shape.value + step * (way[0] - way[1]);
  return [shape.value[0] + step * way[0], shape.value[1] + step * way[1]];
}
