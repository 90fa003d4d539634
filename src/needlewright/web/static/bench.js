// The bench screen: looks on while a run is on, and says what is wanted of it.

import { load, send } from "./base.js";
import { openBenchLine } from "./bench_line.js";
import { BenchShown } from "./bench_show.js";

const facts = JSON.parse(document.getElementById("bench-facts").textContent);
const shown = new BenchShown();
const AGAIN_MS = 1500;
const LOOK_MS = 3000;

let line = null;
let awake = null;

function connect() {
  line = openBenchLine(facts.line, {
    now: (said) => shown.now(said),
    look: (look, picture) => shown.look(look, picture),
    closed() {
      line = null;
      lookAgain();
    },
  });
}

// While no line is open: another window may have gone on with the run.
async function lookAgain() {
  const said = await load(facts.now).catch(() => null);
  if (said === null) shown.lost();
  else shown.now(said);
  const isOn = said !== null && shown.isOn;
  keepAwake(isOn);
  if (isOn) connect();
  else setTimeout(lookAgain, said === null ? AGAIN_MS : LOOK_MS);
}

// A phone at the bench does not go dark while needles move.
async function keepAwake(wanted) {
  if (!wanted) {
    await awake?.release();
    awake = null;
  } else if (!awake && navigator.wakeLock && !document.hidden) {
    awake = await navigator.wakeLock.request("screen").catch(() => null);
    awake?.addEventListener("release", () => (awake = null));
  }
}

async function want(address, fields) {
  shown.clearWrong();
  const form = new FormData();
  for (const [name, value] of Object.entries(fields)) form.set(name, String(value));
  try {
    await send(address, { form });
    return true;
  } catch (error) {
    shown.wrong(error.message);
    return false;
  }
}

document.getElementById("bench-stop-form").addEventListener("submit", (event) => {
  event.preventDefault();
  want(facts.stop, {});
});
document.getElementById("bench-small").addEventListener("click", (event) => {
  const button = event.target.closest("[data-act]");
  if (button) want(facts.act, { act: button.dataset.act, at: shown.said.done });
});
const doneButton = document.getElementById("bench-done");
doneButton.addEventListener("click", () => want(facts.done, { asked: doneButton.dataset.asked }));
document.getElementById("bench-cannot").addEventListener("click", () => {
  want(facts.done, { asked: doneButton.dataset.asked, cannot: "yes" });
});
document.getElementById("bench-again").addEventListener("submit", async (event) => {
  event.preventDefault();
  const fields = Object.fromEntries(new FormData(event.target));
  delete fields.form_token;
  if (!event.target.querySelector("details[open]")) {
    delete fields.bench;
    delete fields.camera;
  }
  const button = event.target.querySelector("button");
  button.disabled = true;
  const went = await want(facts["go-on"], fields);
  button.disabled = false;
  if (went) location.reload();
});
document.addEventListener("visibilitychange", () => keepAwake(line !== null));

shown.now(facts.now_is);
if (facts.is_on) {
  connect();
  keepAwake(true);
} else {
  setTimeout(lookAgain, LOOK_MS);
}
document.getElementById("bench").dataset.ready = "yes";
