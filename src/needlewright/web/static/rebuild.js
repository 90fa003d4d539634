// The work of a plan, and guides in a job: boxes are ticked at once, and sent behind that.

import { keepBoxes } from "./rebuild_boxes.js";
import { keepSaving } from "./sheet_saving.js";
import { keepLive } from "./sheet_live.js";

const sheet = document.getElementById("sheet");

keepBoxes(sheet);
keepSaving(sheet);
keepLive(sheet);

// Paper shows the reasons too.
addEventListener("beforeprint", () => {
  for (const fold of sheet.querySelectorAll("details[id$='-why']")) {
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
