// Photos are added beside the buttons that took them: what cannot be taken is said there, and the
// page stays.

import { Refused, send, text } from "./base.js";

const KEPT = "needlewright.board.wrong"; // what to say once the photos kept before it are shown
const MEGABYTE = 1024 * 1024;

export function keepAdding(root) {
  root.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.matches("[data-adds]")) return;
    event.preventDefault();
    add(root, form);
  });
  const kept = JSON.parse(sessionStorage.getItem(KEPT) ?? "null");
  sessionStorage.removeItem(KEPT);
  if (kept) say(root, kept.moment, "wrong", kept.words);
}

async function add(root, form) {
  if (form.hasAttribute("data-sends")) return;
  const moment = form.dataset.adds;
  let where = null;
  form.setAttribute("data-sends", "");
  try {
    for (const body of bodies(form)) {
      say(root, moment, "hint", text("board.sending"));
      where = (await send(form.action, { form: body })).where;
    }
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    if (where) sessionStorage.setItem(KEPT, JSON.stringify({ moment, words: error.message }));
    else say(root, moment, "wrong", error.message);
  } finally {
    form.removeAttribute("data-sends");
    for (const field of form.querySelectorAll("input[type=file]")) field.value = "";
  }
  if (where) location.assign(where);
}

// One photo at a time: what one of them has wrong keeps none of the others back.
function bodies(form) {
  const whole = new FormData(form);
  const files = whole.getAll("photo").filter((one) => one.size || one.name);
  for (const file of files) refuseLarge(file, Number(form.dataset.most));
  if (!files.length) return [whole];
  return files.map((file) => {
    const one = new FormData(form);
    one.set("photo", file);
    return one;
  });
}

function refuseLarge({ name, size }, most) {
  if (size <= most) return;
  const what = text("board.too_large", { name, size: Math.ceil(size / MEGABYTE), most: most / MEGABYTE });
  throw new Refused(0, { what, where: "", do: "" });
}

function say(root, moment, kind, words) {
  const place = root.querySelector(`[data-wrong-of="${CSS.escape(moment)}"]`);
  const note = document.createElement("p");
  note.className = kind;
  note.setAttribute("role", kind === "wrong" ? "alert" : "status");
  note.textContent = words;
  place.replaceChildren(note);
  note.scrollIntoView({ block: "nearest" });
}
