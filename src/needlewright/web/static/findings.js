// The findings of a job: an answer or a decision is sent, and the ranking comes back changed.

import { send, text } from "./base.js";
import { keepSaving, clearWrong, showWrong } from "./sheet_saving.js";
import { keepLive, refresh } from "./sheet_live.js";

const sheet = document.getElementById("sheet");

keepSaving(sheet);
keepLive(sheet);

let sending = Promise.resolve();

sheet.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("[data-answer], [data-decide]")) return;
  event.preventDefault();
  const body = new FormData(form, event.submitter);
  sending = sending.then(() => keep(form, body));
});

async function keep(form, body) {
  try {
    const said = await send(form.action, { form: body });
    clearWrong(form);
    if (form.matches("[data-decide]")) {
      form.reset();
      const fold = form.closest("details");
      if (fold) fold.open = false;
    }
    await refresh(said.where?.split("#")[0]);
  } catch (error) {
    showWrong(form, error, null);
  }
}

sheet.addEventListener("click", async (event) => {
  const button = event.target.closest("[data-copy]");
  if (!button) return;
  const place = button.closest("details");
  const said = place.querySelector("[data-copied]");
  try {
    await navigator.clipboard.writeText(place.querySelector(".to-copy").textContent);
    said.textContent = text("findings.copied");
  } catch {
    said.textContent = text("findings.not_copied");
  }
});

// Paper shows what shows it.
addEventListener("beforeprint", () => {
  for (const picture of sheet.querySelectorAll("img[loading=lazy]")) picture.loading = "eager";
  for (const fold of sheet.querySelectorAll("details[id$='-evidence'], #next-more")) {
    fold.dataset.was = fold.open ? "open" : "";
    fold.open = true;
  }
});
addEventListener("afterprint", () => {
  for (const fold of sheet.querySelectorAll("[data-was]")) {
    fold.open = fold.dataset.was === "open";
    delete fold.dataset.was;
  }
});

sheet.dataset.ready = "yes";
