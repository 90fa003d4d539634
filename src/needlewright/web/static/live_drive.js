// The bench drives the movement whose needle is in hand, and its camera gives the picture.

import { farewell, load, send, text } from "./base.js";

const LOOK_MS = 1000;

export class Drive {
  constructor(facts, on) {
    this.facts = facts.drive;
    this.on = on; // told: found, begun, ended
    this.place = document.getElementById("live-drive");
    this.choice = document.getElementById("drive-bench");
    this.begin = document.getElementById("drive-begin");
    this.stopButton = document.getElementById("drive-stop");
    this.said = document.getElementById("drive-said");
    this.asked = document.getElementById("drive-asked");
    this.isOn = false;
    this.number = null;
    this.begin.addEventListener("click", () => this.start());
    this.stopButton.addEventListener("click", () => this.post("stop"));
    document.getElementById("drive-done").addEventListener("click", () => this.answer(false));
    document.getElementById("drive-cannot").addEventListener("click", () => this.answer(true));
    // With every look the page says that it is there; a bench nobody looks at switches off.
    setInterval(() => this.isOn && this.look(), LOOK_MS);
    addEventListener("pagehide", () => this.isOn && farewell(`${this.facts.at}/leave`));
    this.find();
  }

  // Driving may be on since before this page was loaded, or in another window.
  async find() {
    try {
      const state = await load(`${this.facts.at}/now`);
      if (!state.on) return;
      this.show(state);
      this.on.found();
    } catch {
      // the first look of a driving bench says so itself
    }
  }

  async start() {
    this.say(text("live.drive.beginning"));
    const form = new FormData();
    form.set("bench", this.choice.value);
    form.set("camera", document.getElementById("drive-camera").value);
    await this.post("", form);
    if (this.isOn) this.on.begun();
  }

  async to(dial) {
    if (!this.isOn) return;
    const form = new FormData();
    form.set("dial", dial);
    await this.post("to", form);
  }

  async answer(cannot) {
    const form = new FormData();
    form.set("asked", String(this.number));
    if (cannot) form.set("cannot", "yes");
    await this.post("done", form);
  }

  async post(act, form = new FormData()) {
    try {
      this.show(await send(act ? `${this.facts.at}/${act}` : this.facts.at, { form }));
    } catch (error) {
      this.say(error.message);
    }
  }

  async look() {
    try {
      this.show(await send(`${this.facts.at}/here`, { form: new FormData() }));
    } catch {
      // the line says so itself
    }
  }

  show(state) {
    const was = this.isOn;
    this.isOn = state.on;
    this.begin.hidden = state.on;
    this.stopButton.hidden = !state.on;
    this.choice.disabled = state.on;
    this.number = state.asked;
    this.asked.hidden = state.asked === null;
    document.getElementById("drive-lines").replaceChildren(
      ...state.lines.map((line) => Object.assign(document.createElement("li"), { textContent: line })),
    );
    if (!state.on) this.say(state.words || text("live.drive.off"));
    else if (state.dial) this.say(text("live.drive.told", { dial: state.dial, what: state.words }));
    else this.say(text("live.drive.homing"));
    this.place.dataset.on = state.on ? "yes" : "no";
    if (was && !state.on) this.on.ended();
  }

  say(words) {
    if (this.said.textContent !== words) this.said.textContent = words;
  }
}
