// Answers to what is asked next: one at a time, and none to a question nobody had time to read.

const READ_MS = 1000;

let sheet;
let readyAt = 0;
let timer = 0;
let press = { at: -1, end: -1 };

// Watches what is asked; a question that comes in place of another takes no answer for a while.
export function keepQuestions(root) {
  sheet = root;
  for (const type of ["pointerdown", "keydown"]) {
    addEventListener(type, (event) => begun(event), true);
  }
  for (const type of ["pointerup", "pointercancel", "keyup"]) {
    addEventListener(type, () => { press.end = performance.now(); }, true);
  }
  let asked = questionNow();
  new MutationObserver(() => {
    const now = questionNow();
    if (now === asked) return;
    asked = now;
    hold();
  }).observe(sheet, { childList: true, subtree: true });
}

function begun(event) {
  if (event.repeat) return;
  const form = event.target.closest?.("[data-answer]");
  press = { at: performance.now(), end: Infinity, question: form ? questionOf(form) : null };
}

// Whether an answer is taken: what is asked was shown long enough, and the finger came down after that.
export function isTaken(form) {
  if (form.hasAttribute("aria-busy")) return false;
  if (!form.closest("#next")) return true;
  if (sheet.hasAttribute("data-sending")) return false;
  const pressedBefore = press.at < readyAt && press.end >= readyAt;
  return performance.now() >= readyAt && !pressedBefore;
}

// The question that stood there when the finger came down, for the page to compare.
export function questionShown(form) {
  return press.end >= performance.now() - 50 && press.question ? press.question : questionOf(form);
}

export function markBusy(form, button) {
  form.setAttribute("aria-busy", "true");
  if (form.closest("#next")) sheet.setAttribute("data-sending", "");
  button?.setAttribute("data-chosen", "");
  disable(form.closest("#next") ?? form, true);
}

export function markDone(form) {
  form.removeAttribute("aria-busy");
  sheet.removeAttribute("data-sending");
  for (const button of form.querySelectorAll("[data-chosen]")) button.removeAttribute("data-chosen");
  disable(form.closest("#next") ?? form, false);
  if (performance.now() < readyAt) disable(document.getElementById("next"), true);
}

// The hand goes to the new question, not to a button that looks like the one it pressed.
export function goToQuestion() {
  const heading = document.getElementById("next-question") ?? document.getElementById("next-title");
  heading?.focus({ preventScroll: true });
  heading?.scrollIntoView({ block: "nearest" });
}

function hold() {
  readyAt = performance.now() + READ_MS;
  sheet.setAttribute("data-held", "");
  disable(document.getElementById("next"), true);
  clearTimeout(timer);
  timer = setTimeout(() => {
    sheet.removeAttribute("data-held");
    if (!sheet.hasAttribute("data-sending")) disable(document.getElementById("next"), false);
  }, READ_MS);
}

function disable(place, is) {
  for (const button of place.querySelectorAll("[data-answer] button")) {
    if (is) button.setAttribute("aria-disabled", "true");
    else button.removeAttribute("aria-disabled");
  }
}

function questionNow() {
  const first = document.querySelector("#next [data-answer]");
  return first ? questionOf(first) : "";
}

function questionOf(form) {
  return form.elements.shown.value;
}
