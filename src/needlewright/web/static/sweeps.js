// A sweep video beside its charts: each shows where the other is.

import { load, text } from "./base.js";

const SVG = "http://www.w3.org/2000/svg";
const EVERY_MS = 1000;
const NEAR_PX = 8; // a finger or a mouse this near to an event means the event
const STEP_S = 0.1;
const PAGE_S = 1;

const root = document.getElementById("sweep");
const video = document.getElementById("sweep-video");
const span = Number(root.dataset.span);
const charts = [...root.querySelectorAll(".chart")];
const frames = [];

// The frame of every plot, as it is drawn, with a line at the video's time.
function findFrames(chart) {
  for (const path of chart.querySelectorAll("path.background[stroke]")) {
    const [, x, y, width, height] = path.getAttribute("d").match(/^M([\d.]+),([\d.]+)h([\d.]+)v([\d.]+)/);
    const line = document.createElementNS(SVG, "line");
    line.setAttribute("class", "now");
    line.setAttribute("y1", y);
    line.setAttribute("y2", Number(y) + Number(height));
    path.parentNode.append(line);
    frames.push({ chart, path, line, x: Number(x), width: Number(width) });
  }
}

function show() {
  const at = Math.min(video.currentTime, span);
  for (const { line, x, width } of frames) {
    const here = x + (span ? (width * at) / span : 0);
    line.setAttribute("x1", here);
    line.setAttribute("x2", here);
  }
  for (const chart of charts) {
    chart.setAttribute("aria-valuenow", at.toFixed(2));
    chart.setAttribute("aria-valuetext", text("sweeps.seconds", { t: at.toFixed(2) }));
  }
}

function goTo(seconds) {
  video.currentTime = Math.min(Math.max(seconds, 0), span);
  show();
}

// The time under a pointer; an event near it is what is meant.
function timeAt(chart, clientX) {
  const frame = frames.find((one) => one.chart === chart && one.path.getClientRects().length);
  if (!frame || !span) return null;
  const matrix = frame.path.parentNode.getScreenCTM();
  const timeOf = (px) => (((px - matrix.e) / matrix.a - frame.x) / frame.width) * span;
  const secondsOfPx = span / (frame.width * matrix.a);
  const at = timeOf(clientX);
  const near = JSON.parse(chart.dataset.marks)
    .filter((mark) => Math.abs(mark - at) <= NEAR_PX * secondsOfPx)
    .sort((a, b) => Math.abs(a - at) - Math.abs(b - at));
  return near[0] ?? at;
}

function followPointer(chart) {
  let held = null;
  const move = (event) => {
    const at = timeAt(chart, event.clientX);
    if (at !== null) goTo(at);
  };
  chart.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    held = event.pointerId;
    chart.setPointerCapture(held);
    move(event);
  });
  chart.addEventListener("pointermove", (event) => {
    if (event.pointerId === held) move(event);
  });
  for (const end of ["pointerup", "pointercancel"]) {
    chart.addEventListener(end, () => {
      held = null;
    });
  }
}

function followKeys(chart) {
  chart.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const to = {
      ArrowLeft: video.currentTime - STEP_S,
      ArrowDown: video.currentTime - STEP_S,
      ArrowRight: video.currentTime + STEP_S,
      ArrowUp: video.currentTime + STEP_S,
      PageDown: video.currentTime - PAGE_S,
      PageUp: video.currentTime + PAGE_S,
      Home: 0,
      End: span,
    }[event.key];
    if (to === undefined) return;
    event.preventDefault();
    goTo(to);
  });
}

// While it plays, the line moves with every picture of the screen.
function followVideo() {
  const each = () => {
    show();
    if (!video.paused && !video.ended) requestAnimationFrame(each);
  };
  video.addEventListener("play", each);
  for (const one of ["timeupdate", "seeking", "seeked", "loadedmetadata"]) video.addEventListener(one, show);
  const unplayed = () => {
    root.querySelector("#sweep-unplayed").hidden = false;
  };
  if (video.error) unplayed();
  video.addEventListener("error", unplayed);
}

for (const chart of charts) {
  findFrames(chart);
  followPointer(chart);
  followKeys(chart);
}
for (const button of root.querySelectorAll("[data-at]")) {
  button.addEventListener("click", () => goTo(Number(button.dataset.at)));
}
followVideo();
show();

// While its needles are being followed, says how far that is; then the charts are there.
const waits = root.querySelector("[data-progress]");

async function look() {
  const far = await load(waits.dataset.progress).catch(() => null);
  if (far?.done) {
    location.reload();
    return;
  }
  if (far?.of) {
    const bar = waits.querySelector("progress");
    bar.max = far.of;
    bar.value = far.read;
  }
  if (far) {
    const words = far.of ? text("sweeps.far", { read: far.read, of: far.of }) : "";
    waits.querySelector("#sweep-far").textContent = far.trouble ?? words;
  }
  setTimeout(look, EVERY_MS);
}

if (waits) look();
root.dataset.ready = "yes";
