// A sum is worked out again while it is typed into: the page is fetched with what stands in the
// fields, and its answer, its drawing and what is wrong are laid over those shown.

import { text } from "./base.js";

const WAIT_MS = 120;
const form = document.getElementById("sum-form");
let timer = 0;
let asked = null;

form.addEventListener("input", () => {
  clearTimeout(timer);
  timer = setTimeout(workOut, WAIT_MS);
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  workOut();
});

for (const chooser of document.querySelectorAll("[data-into]")) {
  chooser.addEventListener("change", async () => {
    const [file] = chooser.files;
    if (!file) return;
    document.getElementById(chooser.dataset.into).value = textOf(await file.arrayBuffer());
    workOut();
  });
}

// As the house reads a file by command: by its byte order mark, else UTF-8, else western Windows.
function textOf(content) {
  const [first, second] = new Uint8Array(content, 0, Math.min(2, content.byteLength));
  if (first === 0xff && second === 0xfe) return new TextDecoder("utf-16le").decode(content);
  if (first === 0xfe && second === 0xff) return new TextDecoder("utf-16be").decode(content);
  try {
    return new TextDecoder("utf-8", { fatal: true }).decode(content);
  } catch {
    return new TextDecoder("windows-1252").decode(content);
  }
}

async function workOut() {
  asked?.abort();
  asked = new AbortController();
  const signal = asked.signal;
  const fields = new URLSearchParams(new FormData(form));
  const posts = form.method === "post";
  const address = posts ? form.action : `${form.action}?${fields}`;
  try {
    const answer = await fetch(address, {
      method: posts ? "POST" : "GET",
      body: posts ? withFiles() : undefined,
      headers: { Accept: "text/html" },
      credentials: "same-origin",
      signal,
    });
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (signal.aborted) return;
    if (!fresh.getElementById("sum")) throw new Error("no sum");
    lay(fresh);
    if (!posts) history.replaceState(null, "", address);
  } catch (error) {
    if (error.name !== "AbortError") say(text("sums.no_page"));
  }
}

// A text goes as a file: a recording is longer than a field may be.
function withFiles() {
  const sent = new FormData(form);
  for (const field of form.querySelectorAll("textarea")) {
    sent.set(field.name, new File([field.value], `${field.name}.csv`, { type: "text/csv" }));
  }
  return sent;
}

function lay(fresh) {
  const why = document.getElementById("why");
  const wasOpen = why ? why.open : true;
  for (const id of ["answer-said", "answer-rest"]) swap(document.getElementById(id), fresh.getElementById(id));
  const now = document.getElementById("why");
  if (now) now.open = wasOpen;
  for (const place of form.querySelectorAll("[data-wrong-of]")) {
    swap(place, fresh.querySelector(`[data-wrong-of="${CSS.escape(place.dataset.wrongOf)}"]`));
  }
  for (const group of form.querySelectorAll(".input-group")) {
    if (group.querySelector(".wrong")) group.open = true;
  }
  for (const field of form.querySelectorAll("[id^=in-]")) {
    const there = fresh.getElementById(field.id);
    if (there?.hasAttribute("aria-invalid")) field.setAttribute("aria-invalid", "true");
    else field.removeAttribute("aria-invalid");
  }
}

function swap(here, there) {
  if (here.innerHTML !== there.innerHTML) here.replaceChildren(...document.importNode(there, true).childNodes);
}

function say(words) {
  document.getElementById("answer-said").textContent = words;
}

document.getElementById("sum").dataset.ready = "yes";
