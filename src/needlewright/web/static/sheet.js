// The job sheet: fields save themselves, photos go up as they are taken, readings come in.

import { openForPrint } from "./print_folds.js";
import { keepSaving } from "./sheet_saving.js";
import { keepLive } from "./sheet_live.js";
import { takePhotos } from "./sheet_photos.js";
import { answerWhy } from "./sheet_why.js";

const sheet = document.getElementById("sheet");

keepSaving(sheet);
takePhotos(sheet);
answerWhy(sheet);
keepLive(sheet);

// The one next thing: open the part it is in, go there, and begin.
document.addEventListener("click", (event) => {
  const link = event.target.closest("a[href^='#']");
  if (!link) return;
  const place = document.getElementById(decodeURIComponent(link.hash.slice(1)));
  if (!place) return;
  for (let fold = place.closest("details"); fold; fold = fold.parentElement.closest("details")) {
    fold.open = true;
  }
  if (place.matches("details")) place.open = true;
  if (!link.matches("[data-go]")) return;
  event.preventDefault();
  history.replaceState(null, "", link.hash);
  place.scrollIntoView({ block: place.matches("input, textarea, select") ? "center" : "start" });
  place.focus({ preventScroll: true });
  if (place.matches("input[type=file]")) place.click();
});

// Paper shows every part, and every picture in it.
openForPrint(sheet, "details.part, details.steps-fold");
addEventListener("beforeprint", () => {
  for (const picture of sheet.querySelectorAll("img[loading=lazy]")) picture.loading = "eager";
});

sheet.dataset.ready = "yes";
