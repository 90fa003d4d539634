// Fields save themselves, one after the other; what cannot be saved stays where it was typed.

import { send, text } from "./base.js";
import { refresh } from "./sheet_live.js";

let sheet;
let queue = Promise.resolve();

export function keepSaving(root) {
  sheet = root;
  root.addEventListener("change", (event) => {
    const form = event.target.closest("form.saves");
    if (form && event.target.type !== "file") saveField(form, event.target);
  });
  root.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.matches("form.saves")) {
      event.preventDefault();
      saveForm(form);
    } else if (form.matches("[data-send]")) {
      event.preventDefault();
      sendForm(form);
    }
  });
  // What was typed before this script ran.
  for (const field of root.querySelectorAll("form.saves input[id], form.saves textarea")) {
    if (field.type !== "file" && field !== document.activeElement && isChanged(field)) {
      saveField(field.form, field);
    }
  }
}

function isChanged(field) {
  if (field.type === "checkbox" || field.type === "radio") return false;
  return field.value !== field.defaultValue;
}

function saveField(form, field) {
  if (form.matches("[data-needs-note]") && wantsNote(form)) {
    form.querySelector(".field input").focus();
    return;
  }
  const body = form.matches("[data-whole]") ? new FormData(form) : some(form, field);
  enqueue(() => save(form, body, field));
}

// "Not as it should be" goes with what was found instead; both are saved together.
function wantsNote(form) {
  const no = form.querySelector('input[value="no"]:checked');
  return Boolean(no) && !form.querySelector(".field input").value.trim();
}

function saveForm(form) {
  const many = form.querySelector("[data-field]"); // which of them is wrong, the sentence says
  const first = many ? null : form.querySelector("input:not([type=hidden])");
  enqueue(() => save(form, new FormData(form), first));
}

// Only the field that was changed, and those that mean nothing without it.
function some(form, field) {
  const together = field.closest("[data-together]");
  const fields = together ? [...together.querySelectorAll("[name]")] : [field];
  const body = new FormData();
  for (const hidden of form.querySelectorAll('input[type="hidden"]')) body.append(hidden.name, hidden.value);
  for (const one of fields) body.set(one.name, one.value);
  return body;
}

async function save(form, body, field) {
  body.set("seen", sheet.dataset.version);
  const place = field?.closest(".field, [data-field]");
  try {
    const said = await send(form.action, { form: body });
    clearWrong(form);
    for (const one of form.querySelectorAll("[data-field].is-conflict")) {
      if (body.has(one.querySelector("[name]").name)) clearPlace(one);
    }
    form.querySelector("[data-save-now]")?.closest("p").remove();
    if (field && "defaultValue" in field) field.defaultValue = field.value;
    mark(place);
    await refresh(said.where?.split("#")[0]);
  } catch (error) {
    showWrong(form, error, place);
    if (error.status === 409) await refresh();
  }
}

function enqueue(work) {
  queue = queue.then(work, work);
  return queue;
}

// A form that does one thing: a note, a decision, finishing a part, undo.
export function sendForm(form) {
  const button = form.querySelector("button");
  if (button?.getAttribute("aria-disabled") === "true") return queue; // a second tap on it
  button?.setAttribute("aria-disabled", "true");
  return enqueue(async () => {
    const body = new FormData(form);
    body.set("seen", sheet.dataset.version);
    try {
      const said = await send(form.action, { form: body });
      clearWrong(form);
      if (form.matches("[data-empties]")) form.reset();
      for (const field of form.querySelectorAll("input, textarea")) field.defaultValue = field.value;
      if (form.matches("[data-closes]")) document.getElementById("aside").close();
      await refresh(said.where?.split("#")[0]);
    } catch (error) {
      showWrong(form, error, null);
    } finally {
      button?.removeAttribute("aria-disabled");
    }
  });
}

function mark(place) {
  if (!place) return;
  place.dataset.said = text("base.saved");
  place.querySelector("label")?.setAttribute("data-said", text("base.saved"));
  place.classList.remove("is-conflict");
  place.classList.add("is-saved");
  setTimeout(() => place.classList.remove("is-saved"), 2500);
}

// Says what is wrong next to where it happened; the input stays.
export function showWrong(form, error, place) {
  const wrong = error.wrong ?? { what: error.message, where: "", do: "" };
  const note = document.createElement("div");
  note.className = "wrong";
  note.setAttribute("role", "alert");
  const what = document.createElement("p");
  what.className = "what";
  const isBeside = place?.matches("[data-field]"); // says by itself of which sheet it is
  what.textContent = wrong.where && !isBeside ? `${wrong.where}: ${wrong.what}` : wrong.what;
  note.append(what);
  if (wrong.do) {
    const next = document.createElement("p");
    next.className = "do";
    next.textContent = `${wrong.do[0].toUpperCase()}${wrong.do.slice(1)}.`;
    note.append(next);
  }
  clearWrong(form);
  if (place) {
    clearPlace(place);
    place.classList.add("is-conflict");
    place.append(note);
    place.querySelector("input, textarea, select")?.setAttribute("aria-invalid", "true");
  } else {
    wrongPlace(form).replaceChildren(note);
  }
  note.scrollIntoView({ block: "nearest" });
}

export function clearWrong(form) {
  wrongPlace(form)?.replaceChildren();
  for (const place of form.querySelectorAll(".is-conflict:not([data-field])")) clearPlace(place);
}

// Numbers of a sheet are each wrong by themselves: one that is kept says nothing of the others.
function clearPlace(place) {
  place.classList.remove("is-conflict");
  place.querySelector(".wrong")?.remove();
  place.querySelector("[aria-invalid]")?.removeAttribute("aria-invalid");
}

function wrongPlace(form) {
  const name = form.dataset.wrong ?? form.id;
  const found = document.querySelector(`[data-wrong-of="${CSS.escape(name)}"]`) ?? form.querySelector(".wrong-place");
  if (found) return found;
  const made = document.createElement("div");
  made.className = "wrong-place";
  form.prepend(made);
  return made;
}
