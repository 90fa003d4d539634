// Paper has nothing to open: folds that belong on it are opened for printing, and closed after.

export function openForPrint(sheet, folds) {
  addEventListener("beforeprint", () => {
    for (const fold of sheet.querySelectorAll(folds)) {
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
}
