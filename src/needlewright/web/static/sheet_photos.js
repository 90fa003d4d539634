// Photos go up one at a time, as soon as they are taken, chosen or dropped.

import { send, text } from "./base.js";
import { refresh } from "./sheet_live.js";
import { clearWrong, showWrong } from "./sheet_saving.js";

const TABLE = /\.(csv|tsv|txt)$/i;

export function takePhotos(sheet) {
  sheet.addEventListener("change", (event) => {
    const form = event.target.closest("form[data-upload], form[data-photos], form[data-start-run]");
    if (form && event.target.type === "file") {
      const files = [...event.target.files];
      event.target.value = "";
      take(form, files);
    }
  });
  sheet.addEventListener("dragover", (event) => {
    const place = dropPlace(event);
    if (!place) return;
    event.preventDefault();
    place.classList.add("is-over");
  });
  sheet.addEventListener("dragleave", (event) => dropPlace(event)?.classList.remove("is-over"));
  sheet.addEventListener("drop", (event) => {
    const place = dropPlace(event);
    if (!place) return;
    event.preventDefault();
    place.classList.remove("is-over");
    take(place, [...event.dataTransfer.files]);
  });
}

function dropPlace(event) {
  if (![...(event.dataTransfer?.types ?? [])].includes("Files")) return null;
  return (
    event.target.closest("form.drop, form[data-upload]") ??
    event.target.closest("section.run, .photos")?.querySelector("form.drop, form[data-upload]") ??
    null
  );
}

async function take(form, files) {
  if (!files.length) return;
  clearWrong(form);
  const telling = tell(form);
  try {
    if (form.matches("[data-start-run]")) await startRun(form, files, telling);
    else await putEach(form, inOrder(files), telling);
  } catch (error) {
    showWrong(form, error, null);
  } finally {
    telling.end();
    await refresh();
  }
}

async function putEach(form, files, telling, fields = () => ({})) {
  for (const [done, file] of files.entries()) {
    telling.say(file.name, done + 1, files.length);
    const body = new FormData(form);
    body.delete("photo");
    body.delete("files");
    for (const [name, value] of Object.entries(fields(file))) body.set(name, value);
    body.set("photo", file, file.name);
    await send(form.action, { form: body });
  }
}

// The table first: it says which photo is which step. Then each photo by itself.
async function startRun(form, files, telling) {
  const tables = files.filter((file) => TABLE.test(file.name));
  const photos = inOrder(files.filter((file) => !TABLE.test(file.name)));
  const body = new FormData(form);
  body.delete("files");
  for (const table of tables) body.append("files", table, table.name);
  telling.say(tables[0]?.name ?? "", 0, photos.length);
  const started = await send(form.action, { form: body });
  if (!started.run) return;
  const steps = new Map(
    Object.entries(started.steps).map(([name, step]) => [name.split("/").pop().toLowerCase(), step]),
  );
  const here = document.getElementById("sheet").dataset.here;
  const known = photos.filter((photo) => steps.has(photo.name.toLowerCase()));
  const put = document.createElement("form");
  put.action = `${here}/run/${started.run}/photos`;
  await putEach(put, known, telling, (photo) => ({ step: steps.get(photo.name.toLowerCase()) }));
}

function inOrder(files) {
  return [...files].sort((a, b) => a.name.localeCompare(b.name, undefined, { numeric: true }));
}

function tell(form) {
  const line = document.createElement("p");
  line.className = "is-sending";
  line.setAttribute("role", "status");
  form.after(line);
  return {
    say(name, done, of) {
      line.textContent = text("sheet.sending", { name, done, of });
    },
    end() {
      line.remove();
    },
  };
}
