// Settings save themselves.

import { send, text } from "./base.js";

for (const form of document.querySelectorAll("form[data-saves]")) {
  const note = form.querySelector("[data-saved]");
  let queue = Promise.resolve();

  const save = async (field) => {
    const body = new FormData();
    body.set("seen", form.elements.seen.value);
    for (const one of form.elements) {
      if (one === field || one.type === "hidden") body.set(one.name, one.value);
    }
    if (field.type === "checkbox" && !field.checked) body.delete(field.name);
    if (field.type !== "checkbox") body.delete("has_invented");
    try {
      const said = await send(form.action, { form: body });
      form.elements.seen.value = said.version;
      field.removeAttribute("aria-invalid");
      form.querySelector(".wrong")?.remove();
      note.textContent = text("base.saved");
      note.hidden = false;
    } catch (error) {
      note.hidden = true;
      field.setAttribute("aria-invalid", "true");
      showWrong(form, error);
    }
  };

  form.addEventListener("change", (event) => {
    queue = queue.then(() => save(event.target));
  });
}

function showWrong(form, error) {
  form.querySelector(".wrong")?.remove();
  const place = document.createElement("div");
  place.className = "wrong";
  place.setAttribute("role", "alert");
  const what = document.createElement("p");
  what.className = "what";
  what.textContent = error.message;
  place.append(what);
  form.prepend(place);
}
