// Two faces beside each other: both go to the same place at once, and say so.

import { text } from "./base.js";

const AROUND = 3; // a place is shown with so much about it, in its own size
const LEAST_MM = 18;
const WORDS_PX = 17;
const beside = document.getElementById("beside");
const faces = beside ? [...beside.querySelectorAll("svg")] : [];
const said = document.getElementById("beside-said");
const tools = document.getElementById("beside-tools");
let looked = null;

function whole(face) {
  return [0, 0, Number(face.dataset.width), Number(face.dataset.height)];
}

// The part of a face that holds a place with room about it, of the face's own form.
function around(face, box) {
  const [left, top, width, height] = box;
  const [, , wide, high] = whole(face);
  const across = Math.min(wide, Math.max(width * AROUND, (height * AROUND * wide) / high, LEAST_MM));
  const down = (across * high) / wide;
  const within = (middle, side, size) => Math.min(Math.max(middle - side / 2, 0), size - side);
  return [within(left + width / 2, across, wide), within(top + height / 2, down, high), across, down];
}

// Numbers are as large as letters of the page, whatever the face's size and however close.
function letter() {
  for (const face of faces) {
    const size = (WORDS_PX * face.viewBox.baseVal.width) / (face.clientWidth || 600);
    for (const words of face.querySelectorAll("text")) words.setAttribute("font-size", size);
  }
}

function show(number) {
  looked = number;
  for (const face of faces) {
    const place = number === null ? null : face.querySelector(`.beside-place[data-place="${number}"]`);
    const view = place ? around(face, place.dataset.box.split(" ").map(Number)) : whole(face);
    face.setAttribute("viewBox", view.join(" "));
  }
  letter();
  for (const one of beside.querySelectorAll(".beside-place, .beside-places > li")) {
    one.classList.toggle("is-looked-at", one.dataset.place === number);
  }
  for (const button of beside.querySelectorAll("[data-look]")) {
    button.setAttribute("aria-pressed", String(button.dataset.look === number));
  }
  tools.querySelector("button").disabled = number === null;
  said.textContent = number === null ? text("beside.all") : text("beside.looking", { number });
}

if (faces.length && beside.querySelector("[data-look]")) {
  const back = document.createElement("button");
  back.type = "button";
  back.className = "button";
  back.id = "beside-whole";
  back.textContent = text("beside.whole");
  back.disabled = true;
  letter();
  addEventListener("resize", letter);
  back.addEventListener("click", () => {
    const button = beside.querySelector(`[data-look="${looked}"]`);
    show(null);
    button?.focus({ preventScroll: true });
  });
  tools.append(back);
  tools.hidden = false;
  for (const button of beside.querySelectorAll("[data-look]")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      show(button.dataset.look === looked ? null : button.dataset.look);
      const seen = faces[0].getBoundingClientRect();
      if (seen.bottom < 0 || seen.top > innerHeight) faces[0].scrollIntoView({ block: "nearest" });
    });
  }
  for (const face of faces) {
    face.addEventListener("click", (event) => {
      const place = event.target.closest(".beside-place");
      show(place && place.dataset.place !== looked ? place.dataset.place : null);
    });
  }
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && looked !== null) show(null);
  });
  // On paper both faces stand whole.
  addEventListener("beforeprint", () => show(null));
}

for (const form of document.querySelectorAll(".beside-form")) {
  form.addEventListener("submit", () => {
    form.querySelector("button").disabled = true;
    form.querySelector("[role=status]").hidden = false;
  });
}
// Come back to by the browser's own way back, the form can be sent again.
addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll(".beside-form")) {
    form.querySelector("button").disabled = false;
    form.querySelector("[role=status]").hidden = true;
  }
});
if (beside) beside.dataset.ready = "yes";
