// The plan of a job: what is going on while it is made, whether it is still what is known, copying.

import { load, text } from "./base.js";
import { openForPrint } from "./print_folds.js";

const sheet = document.getElementById("sheet");

// Working it out may take a moment: it is said, and a second press does nothing.
const making = sheet.querySelector("[data-making]");
making?.addEventListener("submit", (event) => {
  const button = making.querySelector("button");
  if (button.getAttribute("aria-disabled") === "true") {
    event.preventDefault();
    return;
  }
  button.setAttribute("aria-disabled", "true");
  making.querySelector("[data-made]").textContent = text("plan.making");
});
addEventListener("pageshow", () => {
  making?.querySelector("button").removeAttribute("aria-disabled");
  if (making) making.querySelector("[data-made]").textContent = "";
});

// Looked at after the page is there: it works the plan out once more.
const fresh = document.getElementById("fresh");
if (fresh) {
  load(fresh.dataset.fresh)
    .then((said) => {
      if (said.same) return;
      const words = document.createElement("p");
      words.className = "stale";
      words.textContent = text("plan.other");
      const next = document.createElement("p");
      next.className = "hint";
      next.textContent = text("plan.other_why");
      fresh.append(words, next);
      const fold = document.getElementById("terms-fold");
      if (!fold) return; // no plan can be made as the catalogue is
      fold.open = true;
      // to make it anew is the one next thing now, and what was it before is not
      const before = document.querySelector("#next .main");
      const anew = fold.querySelector("form button");
      for (const one of [before, anew]) one?.classList.toggle("main", one === anew);
      before?.removeAttribute("data-key");
      anew.dataset.key = "x";
    })
    .catch(() => {}); // without an answer nothing is said: the plan stands as it is
}

sheet.addEventListener("click", async (event) => {
  const button = event.target.closest("[data-copy]");
  if (!button) return;
  const said = button.parentElement.querySelector("[data-copied]");
  try {
    await navigator.clipboard.writeText(document.getElementById(button.dataset.copy).textContent);
    said.textContent = text("plan.copied");
  } catch {
    said.textContent = text("plan.not_copied");
  }
});

// Paper shows what stands behind: what is left and why, cautions whole at every step.
openForPrint(sheet, "details[id^='left-'], details[data-print]");

sheet.dataset.ready = "yes";
