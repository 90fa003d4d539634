// How far a needle is from its target, by ear: pulses that hurry and rise, held when it is there.

const FAR_HZ = 300;
const NEAR_HZ = 760;
const INSIDE_HZ = [880, 1320];
const PULSE_S = 0.05;
const SLOWEST_S = 0.9;
const QUICKEST_S = 0.09;
const FAR_TIPS = 8;
const LOUD = 0.12;

// Pitch and time between pulses at a distance in tip widths.
export function pulseAt(tips) {
  const near = 1 - Math.min(Math.abs(tips), FAR_TIPS) / FAR_TIPS;
  return {
    hz: FAR_HZ + (NEAR_HZ - FAR_HZ) * near,
    every: SLOWEST_S - (SLOWEST_S - QUICKEST_S) * near,
  };
}

export class Tone {
  constructor(button) {
    this.button = button;
    this.sound = null;
    this.held = null;
    this.due = 0;
    button.dataset.sounding = "off";
  }

  get isOn() {
    return this.sound !== null;
  }

  // Browsers give sound only to a press of a button.
  async toggle() {
    if (this.isOn) return this.stop();
    const sound = new AudioContext();
    this.sound = sound;
    await sound.resume().catch(() => null); // pressed again meanwhile, it is closed
    if (this.sound !== sound) return;
    this.button.setAttribute("aria-pressed", "true");
    this.button.dataset.sounding = "silent";
  }

  stop() {
    this.release();
    this.sound?.close();
    this.sound = null;
    this.button.setAttribute("aria-pressed", "false");
    this.button.dataset.sounding = "off";
  }

  // What is seen now; null: nothing is, and nothing sounds.
  update(tips, isInside) {
    if (!this.isOn) return;
    if (tips === null || !isInside) this.release();
    if (tips === null) {
      this.button.dataset.sounding = "silent";
    } else if (isInside) {
      this.hold();
      this.button.dataset.sounding = "held";
    } else {
      this.pulse(tips);
      this.button.dataset.sounding = "pulses";
    }
  }

  pulse(tips) {
    const now = this.sound.currentTime;
    if (now < this.due) return;
    const { hz, every } = pulseAt(tips);
    this.due = now + every;
    this.button.dataset.hz = Math.round(hz);
    const { source } = this.voice(hz, "square", 0.35);
    source.start(now);
    source.stop(now + PULSE_S);
  }

  hold() {
    if (this.held) return;
    this.held = INSIDE_HZ.map((hz) => this.voice(hz, "sine", 0.6));
    for (const { source } of this.held) source.start();
  }

  release() {
    for (const { source } of this.held ?? []) source.stop();
    this.held = null;
  }

  voice(hz, type, share) {
    const source = new OscillatorNode(this.sound, { frequency: hz, type });
    const gain = new GainNode(this.sound, { gain: LOUD * share });
    source.connect(gain).connect(this.sound.destination);
    return { source };
  }
}
