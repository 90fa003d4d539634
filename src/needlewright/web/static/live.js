// The live place: starts and stops the picture, follows the step in hand, takes what stands.

import { send, text } from "./base.js";
import { browserCamera } from "./live_camera.js";
import { openLine } from "./live_line.js";
import { Drive } from "./live_drive.js";
import { SetMode } from "./live_set.js";
import { Shown } from "./live_show.js";

const facts = JSON.parse(document.getElementById("live-facts").textContent);
const shown = new Shown(facts);
const setting = new SetMode(facts);
shown.over = (paper, share, unit) => setting.draw(paper, share, unit);
const startButton = document.getElementById("live-start");
const takeButton = document.getElementById("live-take");
const stopButton = document.getElementById("live-stop");
const choice = document.getElementById("live-camera");
const STALE_MS = 1500;
const AGAIN_MS = 1500;

const isPressing = facts.take === null; // a press plan: needles in turn, no photos of steps
let step = facts.step;
let run = null; // the picture under way: { line, camera, answered, framed, id }
let isTaking = false;

function stepFacts() {
  return facts.steps.find((one) => one.number === step);
}

function chooseStep(number) {
  step = number;
  const now = stepFacts();
  for (const button of document.querySelectorAll("[data-step]")) {
    const one = facts.steps.find((fact) => fact.number === Number(button.dataset.step));
    if (one.number === number) button.setAttribute("aria-current", "step");
    else button.removeAttribute("aria-current");
    button.toggleAttribute("data-taken", one.photo !== null);
    button.querySelector(".live-step-state").textContent = stateOf(one);
  }
  takeButton.textContent = text(now.photo === null ? "live.take" : "live.take_again");
  shown.step(now);
  setting.step(number);
  if (isPressing) drive?.to(now.dials[0]);
  history.replaceState(null, "", `?step=${number}`);
}

function stateOf(one) {
  if (isPressing) return text(one.photo === null ? "live.set.press_wanted" : "live.set.pressed");
  return one.photo === null ? text("live.wanted") : text("live.taken");
}

const drive = isPressing ? new Drive(facts, { found, begun, ended }) : null;

// The bench has begun to drive: its camera gives the picture, and the needle in hand is driven.
function begun() {
  if (run) stop();
  found();
  choice.value = "driven";
  drive.to(stepFacts().dials[0]);
  start();
}

// The picture of a bench that drives can be chosen; nothing moves by that.
function found() {
  choice.querySelector('[value="driven"]').disabled = false;
}

function ended() {
  if (choice.value !== "driven") return;
  if (run) stop();
  choice.querySelector('[value="driven"]').disabled = true;
  choice.value = "browser";
}

if (isPressing) {
  setting.onMove = (by) => {
    const at = facts.steps.indexOf(stepFacts());
    chooseStep(facts.steps[(at + by + facts.steps.length) % facts.steps.length].number);
  };
}

// A needle was written down: the next one that is to be pressed comes up, what was said stays.
setting.onWritten = (said) => {
  if (!isPressing) return;
  for (const one of facts.steps) one.photo = said.open.includes(one.number) ? null : one.number;
  const place = document.getElementById("set-said");
  const [lines, good] = [[...place.childNodes], place.dataset.good];
  chooseStep(said.next ?? step);
  place.replaceChildren(...lines);
  place.dataset.good = good;
};

async function start() {
  if (run) return;
  const mine = { camera: null, line: null, id: null, answered: performance.now(), over: false };
  run = mine;
  shown.clearWrong();
  buttons();
  if (choice.value === "browser") {
    shown.say("asking", "off");
    const camera = await browserCamera((why, values) => fail(mine, text(`live.${why}`, values)));
    if (run !== mine) {
      camera?.stop();
      return;
    }
    if (!camera) return;
    mine.camera = camera;
  }
  connect(mine);
}

function connect(mine) {
  shown.say("preparing", "off");
  mine.answered = performance.now();
  const own = { browser: null, driven: "driven" };
  const bench = choice.value in own ? own[choice.value] : Number(choice.value);
  mine.line = openLine(facts.line, bench, {
    ready(id) {
      mine.id = id;
      setting.liveId = id;
      mine.answered = performance.now();
      shown.say("looking", "off");
      mine.camera?.each((frame) => mine.line.put(frame));
      buttons();
    },
    answer(answer, picture, ms) {
      if (run !== mine) return;
      mine.answered = performance.now();
      setting.answer(answer.found ? answer : null);
      shown.answer(answer, picture, ms);
      buttons();
    },
    picture(picture) {
      if (run === mine) shown.draw(picture);
      else picture.close();
    },
    wrong(sentence, isOver) {
      if (run !== mine) return;
      if (isOver) fail(mine, sentence);
      else {
        mine.answered = performance.now();
        setting.answer(null);
        shown.blank(sentence);
        buttons();
      }
    },
    closed(wasReady) {
      if (run !== mine) return;
      mine.id = null;
      setting.end();
      if (!wasReady && mine.tries > 2) return fail(mine, text("live.refused"));
      mine.tries = wasReady ? 0 : (mine.tries ?? 0) + 1;
      shown.blank(text("live.lost"));
      buttons();
      setTimeout(() => run === mine && connect(mine), AGAIN_MS);
    },
  });
}

function end(mine) {
  if (run === mine) run = null;
  setting.end();
  mine.camera?.stop();
  mine.line?.close();
  buttons();
}

function fail(mine, sentence) {
  if (run !== mine) return;
  end(mine);
  shown.blank(sentence);
}

function stop() {
  if (!run) return;
  end(run);
  shown.blank(text("live.stopped"), "off");
  startButton.focus();
}

async function take() {
  if (isPressing || !run?.id || isTaking || !shown.canTake) return;
  isTaking = true;
  const now = stepFacts();
  shown.clearWrong();
  shown.hush("taking");
  buttons();
  const form = new FormData();
  form.set("live", run.id);
  form.set("step", String(now.number));
  form.set("photo", now.photo === null ? "" : String(now.photo));
  try {
    const said = await send(facts.take, { form });
    now.photo = said.photo;
    shown.took(said);
    chooseStep(said.next ?? now.number);
  } catch (error) {
    shown.wrong(error.message);
  } finally {
    isTaking = false;
    if (run) run.answered = performance.now();
    shown.unhush();
    buttons();
  }
}

function buttons() {
  startButton.hidden = run !== null;
  takeButton.hidden = run === null || isPressing;
  startButton.toggleAttribute("data-key", run === null);
  if (run === null) startButton.dataset.key = "x";
  setting.write.toggleAttribute("data-key", isPressing && run !== null);
  if (isPressing && run !== null) setting.write.dataset.key = "x";
  takeButton.toggleAttribute("data-key", !isPressing);
  if (!isPressing) takeButton.dataset.key = "x";
  stopButton.disabled = run === null;
  choice.disabled = run !== null;
  takeButton.setAttribute("aria-disabled", String(!(run?.id && shown.canTake && !isTaking)));
}

// A number that is not renewed is no number.
setInterval(() => {
  if (!run?.id || isTaking) return;
  const since = performance.now() - run.answered;
  if (since < STALE_MS) return;
  const noPicture = run.camera ? run.camera.sinceFrame() > STALE_MS : true;
  setting.answer(null);
  shown.blank(text(noPicture ? "live.stale" : "live.silent", { n: Math.round(since / 1000) }));
  buttons();
}, 500);

startButton.addEventListener("click", start);
takeButton.addEventListener("click", take);
stopButton.addEventListener("click", stop);
document.querySelector(".live-steps").addEventListener("click", (event) => {
  const button = event.target.closest("[data-step]");
  if (button) chooseStep(Number(button.dataset.step));
});
addEventListener("pagehide", () => {
  setting.gone();
  if (run) end(run);
});

chooseStep(step);
if (isPressing) setting.turn(true);
buttons();
shown.blank(text("live.not_started"), "off");
document.getElementById("live").dataset.ready = "yes";
