// The work of a plan, and guides in a job: boxes are ticked at once, and sent behind that.

import { openForPrint } from "./print_folds.js";
import { keepBoxes } from "./rebuild_boxes.js";
import { keepSaving } from "./sheet_saving.js";
import { keepLive } from "./sheet_live.js";

const sheet = document.getElementById("sheet");

keepBoxes(sheet);
keepSaving(sheet);
keepLive(sheet);

// Paper shows the reasons too.
openForPrint(sheet, "details[id$='-why']");

sheet.dataset.ready = "yes";
