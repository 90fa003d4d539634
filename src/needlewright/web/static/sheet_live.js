// Brings the page up to what the records now say, without taking anything out of a person's hands.

import { load, text } from "./base.js";

const EVERY_MS = 1500;

let sheet;
let refreshing = Promise.resolve();

// Fetches the sheet again and lays what has changed over what is shown.
export function refresh(address) {
  refreshing = refreshing
    .then(() => fetchAndLay(address))
    .catch(() => undefined)
    .then(watch);
  return refreshing;
}

async function fetchAndLay(address) {
  const answer = await fetch(address ?? sheet.dataset.here, {
    headers: { Accept: "text/html" },
    credentials: "same-origin",
  });
  if (!answer.ok) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const fresh = page.getElementById("sheet");
  if (fresh) lay(fresh);
}

function lay(fresh) {
  const moved = fresh.dataset.here !== sheet.dataset.here;
  sheet.dataset.version = fresh.dataset.version;
  sheet.dataset.here = fresh.dataset.here;
  for (const field of sheet.querySelectorAll('input[name="seen"]')) {
    field.value = fresh.dataset.version;
  }
  if (moved) history.replaceState(null, "", fresh.dataset.here);
  for (const part of fresh.querySelectorAll("details.part")) layPart(part);
  for (const there of fresh.querySelectorAll("[data-live]")) layLive(there);
  for (const there of fresh.querySelectorAll("input[id], textarea[id], select[id]")) layField(there);
}

function layPart(there) {
  const here = document.getElementById(there.id);
  if (!here) return;
  const began = !here.hasAttribute("data-in-hand") && there.hasAttribute("data-in-hand");
  const ended = here.hasAttribute("data-in-hand") && !there.hasAttribute("data-in-hand");
  here.dataset.state = there.dataset.state;
  here.toggleAttribute("data-in-hand", there.hasAttribute("data-in-hand"));
  if (began) here.open = true;
  if (ended) here.open = false;
}

function layLive(there) {
  const here = document.getElementById(there.id);
  if (!here) {
    layNew(there);
    return;
  }
  if (same(here, there)) return;
  if (isInHand(here)) return;
  const fresh = document.importNode(there, true);
  keepOpen(here, fresh);
  const hand = here.contains(document.activeElement) ? inPlaceOf(document.activeElement, here, fresh) : null;
  here.replaceWith(fresh);
  hand?.focus({ preventScroll: true });
}

// Where the hand goes on, once the piece it is in is laid anew: the same thing, or its place.
function inPlaceOf(focused, here, fresh) {
  if (focused === here) return fresh;
  if (focused.id) return fresh.querySelector(`#${CSS.escape(focused.id)}`) ?? fresh;
  const all = focused.tagName;
  const alike = (one) => one.textContent === focused.textContent && one.getAttribute("href") === focused.getAttribute("href");
  const there = [...fresh.querySelectorAll(all)];
  return there.find(alike) ?? there[[...here.querySelectorAll(all)].indexOf(focused)] ?? fresh;
}

// A live piece that was not on the page yet stands where its neighbour stands.
function layNew(there) {
  const before = there.previousElementSibling && document.getElementById(there.previousElementSibling.id);
  if (before) {
    before.after(document.importNode(there, true));
    return;
  }
  const around = there.parentElement.closest("[id]");
  const parent = around && document.getElementById(around.id);
  if (parent && !around.matches("[data-live]")) {
    const inside = there.parentElement.className;
    const home = [...parent.querySelectorAll("*")].find((one) => one.className === inside) ?? parent;
    home.append(document.importNode(there, true));
  }
}

function same(here, there) {
  return here.dataset.asServed === there.outerHTML || here.outerHTML === there.outerHTML;
}

// Somebody is typing in it, or has typed something that is not saved.
function isInHand(here) {
  const focused = document.activeElement;
  if (here.contains(focused) && focused.matches("textarea, select, input:not([type=file])")) return true;
  return [...here.querySelectorAll("input, textarea")].some(
    (field) => !["file", "hidden", "checkbox", "radio"].includes(field.type) && field.value !== field.defaultValue,
  );
}

function keepOpen(here, fresh) {
  for (const fold of [here, ...here.querySelectorAll("details[id]")]) {
    const same = fold === here ? fresh : fresh.querySelector(`#${CSS.escape(fold.id)}`);
    if (!fold.matches("details")) continue;
    if (same && fold.dataset.touched) same.open = fold.open;
    if (same && fold.dataset.touched) same.dataset.touched = fold.dataset.touched;
  }
}

// A field nobody is changing here shows what is stored.
function layField(there) {
  const here = document.getElementById(there.id);
  if (!here || here.type === "file" || here === document.activeElement || here.closest(".is-conflict")) return;
  if (here.tagName === "SELECT") {
    const stored = there.value;
    if (here.dataset.dirty === undefined && here.value !== stored) here.value = stored;
    return;
  }
  if (here.type === "checkbox" || here.type === "radio") {
    if (here.dataset.dirty === undefined) here.checked = there.checked;
    return;
  }
  const untouched = here.value === here.defaultValue;
  here.defaultValue = there.defaultValue;
  if (untouched) here.value = there.value;
}

let timer = 0;

// While photos are being read, asks how far that is and shows each as it comes.
function watch() {
  clearTimeout(timer);
  const runs = [...sheet.querySelectorAll("[data-progress]")].filter((run) => Number(run.dataset.unread) > 0);
  if (runs.length) timer = setTimeout(() => look(runs), EVERY_MS);
}

async function look(runs) {
  let changed = false;
  for (const run of runs) {
    const far = await load(run.dataset.progress).catch(() => null);
    if (!far) continue;
    const bar = run.querySelector("progress");
    const left = run.querySelector("[data-left]");
    if (left) left.textContent = words(far);
    if (bar && far.read !== bar.value) changed = true;
    if (far.ended || far.version !== Number(sheet.dataset.version)) changed = true;
  }
  if (changed) await refresh();
  else watch();
}

function words(far) {
  if (far.trouble) return far.trouble;
  const said = [];
  if (far.left_s !== null && far.read < far.of) said.push(text("sheet.left", { s: Math.max(1, Math.round(far.left_s)) }));
  if (far.ahead) said.push(text("sheet.ahead", { n: far.ahead }));
  return said.join(" ");
}

export function keepLive(root) {
  sheet = root;
  root.addEventListener(
    "click",
    (event) => {
      const summary = event.target.closest("summary");
      if (summary) summary.parentElement.dataset.touched = "yes";
    },
    true,
  );
  watch();
  // Another device may have saved: look when the page comes back into view.
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) refresh();
  });
}
