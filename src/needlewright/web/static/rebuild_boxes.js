// Boxes to tick: what is seen changes with the tap; if it cannot be kept, it changes back.

import { send } from "./base.js";
import { clearWrong, showWrong } from "./sheet_saving.js";
import { refresh } from "./sheet_live.js";

let queue = Promise.resolve();
let waiting = 0;

export function keepBoxes(sheet) {
  sheet.addEventListener("click", (event) => {
    const box = event.target.closest("button[role='checkbox']");
    if (!box || !box.form) return;
    event.preventDefault();
    turn(box);
  });
}

function turn(box) {
  const form = box.form;
  const body = new FormData(form);
  body.set(box.name, box.value);
  show(box, box.name === "tick");
  waiting += 1;
  queue = queue.then(() => keep(form, body, box));
}

async function keep(form, body, box) {
  try {
    await send(form.action, { form: body });
    clearWrong(form);
  } catch (error) {
    show(document.getElementById(box.id) ?? box, !body.has("tick"));
    showWrong(form, error, null);
  } finally {
    waiting -= 1;
    if (waiting === 0) await refresh(); // else what is still on its way would be shown as not done
  }
}

function show(box, isDone) {
  box.setAttribute("aria-checked", String(isDone));
  box.name = isDone ? "untick" : "tick";
  box.closest("[data-live], .step")?.toggleAttribute("data-done", isDone);
}
