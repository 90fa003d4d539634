// The findings of a job: an answer or a decision is sent, and the ranking comes back changed.

import { send, text } from "./base.js";
import { goToQuestion, isTaken, keepQuestions, markBusy, markDone, questionShown } from "./findings_answers.js";
import { openForPrint } from "./print_folds.js";
import { keepSaving, clearWrong, showWrong } from "./sheet_saving.js";
import { keepLive, refresh } from "./sheet_live.js";

const sheet = document.getElementById("sheet");

keepSaving(sheet);
keepLive(sheet);

keepQuestions(sheet);

let sending = Promise.resolve();

sheet.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("[data-answer], [data-decide]")) return;
  event.preventDefault();
  const isAnswer = form.matches("[data-answer]");
  if (isAnswer && !isTaken(form)) return;
  const body = new FormData(form, event.submitter);
  if (isAnswer) {
    body.set("shown", questionShown(form));
    markBusy(form, event.submitter);
  }
  sending = sending.then(() => keep(form, body));
});

async function keep(form, body) {
  for (const one of sheet.querySelectorAll("[data-answer], [data-decide]")) clearWrong(one);
  const isNext = form.matches("[data-answer]") && form.closest("#next") !== null;
  try {
    const said = await send(form.action, { form: body });
    if (form.matches("[data-decide]")) {
      form.reset();
      const fold = form.closest("details");
      if (fold) fold.open = false;
    }
    await refresh(said.where?.split("#")[0]);
    if (isNext) goToQuestion();
  } catch (error) {
    showWrong(form, error, fieldOf(form, body));
  } finally {
    if (form.matches("[data-answer]")) markDone(form);
  }
}

// The field of a decision that is still empty; what is wrong stands beside it.
function fieldOf(form, body) {
  if (!form.matches(".decides")) return null;
  const name = body.getAll("cause").some(Boolean) ? "why" : "cause";
  return name === "why" && body.get("why").trim() ? null : form.querySelector(`[name="${name}"]`).closest(".field");
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
openForPrint(sheet, "details[id$='-evidence'], #next-more");

sheet.dataset.ready = "yes";
