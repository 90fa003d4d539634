// The running view of a burn-in: asks where it stands, again and again, and shows it.

import { load, send, text } from "./base.js";

const facts = JSON.parse(document.getElementById("burn-facts").textContent);
const ON = ["preparing", "running", "stopping", "elsewhere"];
const AGAIN_MS = 1000;
const LOST_MS = 3000;

let shownEvents = facts.now_is.count;
let shownStrips = "";
let shownVisits = facts.now_is.visits;
let shownPicture = facts.now_is.picture;
let awake = null;

function show(said) {
  document.getElementById("burn").dataset.phase = said.phase;
  const phase = text(`burn_in.phase_${said.phase}`);
  put("burn-state", said.words ? text("burn_in.state", { phase, words: said.words }) : phase);
  document.getElementById("burn-bar").value = said.hours;
  put("burn-hours", said.done);
  put("burn-left", text("burn_in.left", { n: said.left }));
  put("burn-sweeps", said.swept);
  put("burn-keys", said.keyed);
  put("burn-amperes", said.amperes === null ? "–" : `${said.amperes.toFixed(3)} A`);
  put("burn-count", String(said.count));
  const problem = document.getElementById("burn-problem");
  problem.hidden = !said.problem;
  problem.textContent = said.problem;
  lamps(said.lamps);
  hand(said);
  const stop = document.getElementById("burn-stop");
  if (stop) stop.disabled = said.phase === "stopping";
  picture(said.picture);
  drift(said);
  events(said);
}

function lamps(seen) {
  const place = document.getElementById("burn-lamps");
  if (seen === null) {
    place.textContent = text("burn_in.no_look");
    return;
  }
  place.replaceChildren(seen.watched.join(", ") || text("burn_in.none"));
  if (seen.drowned.length) {
    place.append(" ", element("span", text("burn_in.drowned", { lamps: seen.drowned.join(", ") }), "hint burn-line"));
  }
}

function hand(said) {
  const place = document.getElementById("burn-hand");
  place.hidden = !said.hand.length;
  document.getElementById("burn-asked").value = said.asked ?? "";
  for (const id of ["burn-done", "burn-cannot"]) document.getElementById(id).hidden = said.asked === null;
  document.getElementById("burn-hand-lines").replaceChildren(...said.hand.map((line) => element("p", line)));
}

function picture(number) {
  if (!number || number === shownPicture) return;
  shownPicture = number;
  document.getElementById("burn-picture").src = `${facts["picture.jpg"]}?n=${number}`;
}

function drift(said) {
  if (!said.visits || (said.visits === shownVisits && said.count === shownEvents)) return;
  shownVisits = said.visits;
  document.getElementById("burn-drift").hidden = false;
  document.getElementById("burn-chart").src = `${facts["drift.svg"]}?n=${said.visits}-${said.count}`;
}

function events(said) {
  // an event is told before the records have its pictures: it is drawn anew once they do
  const pictures = said.events.reduce((sum, one) => sum + one.pictures.length, 0);
  const now = `${said.count} ${pictures}`;
  if (now === shownStrips) return;
  shownStrips = now;
  shownEvents = said.count;
  document.getElementById("burn-no-event").hidden = said.count > 0;
  const list = document.getElementById("burn-events");
  const there = new Map([...list.children].map((one) => [one.dataset.n, one]));
  const drawn = (one) => {
    const old = there.get(String(one.n));
    return old?.querySelectorAll("img").length === one.pictures.length ? old : line(one);
  };
  list.replaceChildren(...said.events.map(drawn));
}

function line(one) {
  const made = document.createElement("li");
  made.value = one.n;
  made.dataset.n = one.n;
  made.toggleAttribute("data-failure", one.failure);
  const head = document.createElement("p");
  const when = text("burn_in.at", { hours: one.lived, n: one.swept });
  head.append(element("strong", one.name), " ", element("span", one.where, "burn-where"), " ", element("span", when, "number"));
  if (!one.failure) head.append(" ", element("span", text("burn_in.remark"), "hint"));
  made.append(head, element("p", `${one.words}.`));
  if (one.pictures.length) {
    const strip = document.createElement("p");
    strip.className = "burn-strip";
    strip.append(...one.pictures.map((shown) => small(one, shown)));
    made.append(strip);
  }
  return made;
}

function small(one, shown) {
  const way = document.createElement("a");
  way.href = shown.src;
  const seconds = `${shown.at_s < 0 ? "-" : "+"}${Math.abs(shown.at_s).toFixed(2)}`;
  const img = document.createElement("img");
  Object.assign(img, { src: `${shown.src}/small`, width: 160, height: 107, loading: "lazy" });
  img.alt = text("burn_in.picture_at", { name: one.name, s: seconds });
  const label = element("span", `${seconds} s`);
  label.ariaHidden = "true";
  way.append(img, label);
  return way;
}

async function again() {
  const said = await load(facts.now).catch(() => null);
  if (said === null) put("burn-state", text("burn_in.lost"));
  else if (!ON.includes(said.phase)) {
    location.reload();
    return;
  } else show(said);
  keepAwake();
  setTimeout(again, said === null ? LOST_MS : AGAIN_MS);
}

// A phone that looks on does not go dark.
async function keepAwake() {
  if (awake || !navigator.wakeLock || document.hidden) return;
  awake = await navigator.wakeLock.request("screen").catch(() => null);
  awake?.addEventListener("release", () => (awake = null));
}

document.getElementById("burn-stop-form")?.addEventListener("submit", async (event) => {
  event.preventDefault();
  document.getElementById("burn-stop").disabled = true;
  await send(facts.stop, { form: new FormData() }).catch((error) => wrong(error.message));
});
document.getElementById("burn-hand").addEventListener("submit", async (event) => {
  event.preventDefault();
  const form = new FormData(event.target);
  if (event.submitter?.name) form.set(event.submitter.name, event.submitter.value);
  await send(facts.done, { form }).catch((error) => wrong(error.message));
});

function wrong(sentence) {
  const box = element("div", "", "wrong");
  box.append(element("p", `${sentence[0].toUpperCase()}${sentence.slice(1)}.`, "what"));
  document.getElementById("burn-wrong").replaceChildren(box);
}

function element(name, words, kind = "") {
  const made = document.createElement(name);
  made.textContent = words;
  if (kind) made.className = kind;
  return made;
}

function put(id, words) {
  const place = document.getElementById(id);
  if (place.textContent !== words) place.textContent = words;
}

setTimeout(again, AGAIN_MS);
document.getElementById("burn").dataset.ready = "yes";
