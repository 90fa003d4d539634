// What every page's scripts share: texts, and sending with the form's token.

const texts = JSON.parse(document.getElementById("texts").textContent);

// A text of the groups the page names, with its values put in.
export function text(name, values = {}) {
  let found = texts[name];
  if (typeof found === "object") found = values.n === 1 ? found.one : found.many;
  return found.replace(/\{(\w+)[^}]*\}/g, (_, key) => apart(String(values[key])));
}

// A value kept apart from the sentence it stands in where it runs from right to left.
function apart(value) {
  return /[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc]/.test(value) ? `\u2068${value}\u2069` : value;
}

// What came back wrong: `what`, `where`, `do` as the page's errors have them.
export class Refused extends Error {
  constructor(status, wrong) {
    super([wrong.where, wrong.what].filter(Boolean).join(": ") + (wrong.do ? `; ${wrong.do}` : ""));
    this.status = status;
    this.wrong = wrong;
  }
}

// Sends a form (FormData, URLSearchParams) or a value as JSON; gives what the page answers.
// A page older than the workbench's memory of it fetches a new token and tries once more.
export async function send(address, what = {}) {
  let answer = await ask(address, what);
  if (answer.status === 403 && (await renewToken())) answer = await ask(address, what);
  const said = await answer.json().catch(() => null);
  if (answer.status === 401) throw new Refused(401, plainly("base.signed_out"));
  if (!answer.ok) throw new Refused(answer.status, said?.error ?? plainly("base.no_answer"));
  return said ?? {};
}

// Says something while the page is being left; nobody waits for an answer.
export function farewell(address) {
  const form = new FormData();
  form.set("form_token", tokenPlace().content);
  navigator.sendBeacon(address, form);
}

// Asks for something to show; gives JSON.
export async function load(address) {
  return send(address, { method: "GET" });
}

async function ask(address, { method = "POST", form, json, signal } = {}) {
  const headers = { Accept: "application/json" };
  if (method !== "GET") headers["X-Form-Token"] = tokenPlace().content;
  let body = form;
  if (json !== undefined) {
    headers["Content-Type"] = "application/json";
    body = JSON.stringify(json);
  }
  try {
    return await fetch(address, { method, headers, body, signal, credentials: "same-origin" });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Refused(0, plainly("base.no_answer"));
  }
}

function plainly(name) {
  return { what: text(name), where: "", do: "" };
}

function tokenPlace() {
  return document.querySelector('meta[name="form-token"]');
}

async function renewToken() {
  const answer = await fetch("/api/session", { headers: { Accept: "application/json" } });
  if (!answer.ok) return false;
  const { form_token: token } = await answer.json();
  if (token === tokenPlace().content) return false;
  tokenPlace().content = token;
  for (const field of document.querySelectorAll('input[name="form_token"]')) field.value = token;
  return true;
}

document.documentElement.classList.add("scripted");

// A choice that is sent as soon as it is made.
for (const field of document.querySelectorAll("[data-submit]")) {
  field.addEventListener("change", () => field.form.requestSubmit());
}

// A choice beside a form that was refused: kept without leaving the page, or what was typed goes.
for (const form of document.querySelectorAll("form[data-stays]")) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    try {
      await send(form.getAttribute("action"), { form: new FormData(form) });
      for (const field of form.querySelectorAll(".unset")) field.classList.remove("unset");
    } catch {
      form.submit();
    }
  });
}

// Single keys: elements name theirs with data-key. They can be switched off on the keyboard page.
const KEYS = "needlewright.keys";

function keysAreOff() {
  return localStorage.getItem(KEYS) === "off";
}

// A key would go into it: a box to tick or a file to choose takes no letters.
const TAKES_NO_LETTERS = ["button", "checkbox", "file", "radio", "submit"];

function isTyping(element) {
  if (element.matches("input")) return !TAKES_NO_LETTERS.includes(element.type);
  return element.matches("select, textarea, [contenteditable]");
}

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && isTyping(document.activeElement)) document.activeElement.blur();
  if (keysAreOff() || event.ctrlKey || event.altKey || event.metaKey || event.repeat) return;
  if (isTyping(event.target)) return;
  if (event.key === "?") {
    location.assign("/keys");
    return;
  }
  const key = CSS.escape(event.key);
  const meant = document.querySelector(`[data-key="${key}"]`);
  if (!meant) return;
  event.preventDefault();
  if (isTyping(meant)) meant.focus();
  else meant.click();
});

const keySwitch = document.getElementById("keys-switch");
if (keySwitch) {
  const show = () => {
    keySwitch.textContent = text(keysAreOff() ? "keys.on" : "keys.off");
  };
  keySwitch.hidden = false;
  keySwitch.addEventListener("click", () => {
    localStorage.setItem(KEYS, keysAreOff() ? "on" : "off");
    show();
  });
  show();
}
