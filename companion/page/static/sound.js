// Sound in the browser: notes of the companion's own synthesiser, each at its moment.
//
// A note comes some milliseconds before it is due, which is too late for a browser to be in time with. So everything of
// a demo is heard, and drawn, a little later than it is played: DELAY.
import { get } from "./ask.js";

export const DELAY = 180; // milliseconds
// By channel: voice, level, place. Chords lie below the melody and the bass, of which there is one note at a time.
const VOICES = { 0: ["piano", 1.1, 0.28], 1: ["bass", 0.85, -0.12], 2: ["piano", 0.44, -0.34], 3: ["piano", 1.05, -0.3], 9: ["click", 0.22, 0] };
const RELEASE = 0.07; // seconds: time constant of a damper
const LOUDNESS = 0.5;
const LOOK_AHEAD = 0.012; // seconds by which the two compressors below are late: each looks 6 ms ahead
const STRAIGHT = 0.8; // of full scale: above it peaks are bent, so that nothing is ever cut off
const TOO_LATE = 0.25; // seconds after its moment, from which a note is better left out: the line was down meanwhile
const ENOUGH = 16; // notes to begin with: every other is bent from the nearest

export class Sound {
  #clock;
  #context = null;
  #samples = new Map();
  #ringing = new Map();
  #pedal = new Set();
  #held = new Map();
  #out = null;

  constructor(clock) {
    this.#clock = clock;
  }

  /** Settled when there are notes enough to begin with; the others come meanwhile. */
  ready = null;

  get on() {
    return this.#context !== null;
  }

  /** Begin to sound: to be called when something was pressed, or browsers keep silent. */
  start() {
    if (this.#context) {
      this.#context.resume();
      return;
    }
    this.#context = new AudioContext({ latencyHint: "interactive" });
    this.#out = new DynamicsCompressorNode(this.#context, { threshold: -14, ratio: 3 });
    const limit = new DynamicsCompressorNode(this.#context, { threshold: -6, knee: 0, ratio: 20, attack: 0.001, release: 0.1 });
    this.#out.connect(limit).connect(new WaveShaperNode(this.#context, { curve: bent() })).connect(this.#context.destination);
    this.#context.resume();
    this.ready = new Promise((enough) => this.#load(enough).then(enough, enough));
  }

  async #load(enough) {
    const names = await get("/sounds");
    const wanted = Object.entries(names).flatMap(([voice, notes]) => notes.map((midi) => [voice, midi]));
    wanted.sort((a, b) => Math.abs(a[1] - 58) - Math.abs(b[1] - 58)); // what is played most comes first
    const one = async () => {
      for (let next = wanted.shift(); next; next = wanted.shift()) {
        const [voice, midi] = next;
        const bytes = await (await fetch(`/sounds/${voice}/${midi}`)).arrayBuffer();
        this.#samples.set(`${voice} ${midi}`, { midi, voice, buffer: await this.#context.decodeAudioData(bytes) });
        if (this.#samples.size >= ENOUGH) enough();
      }
    };
    await Promise.all([one(), one(), one()]);
  }

  /** Sound messages: moment, status, and two data bytes each. */
  take(notes) {
    if (!this.#context) return;
    for (const [moment, status, first, second] of notes) {
      const due = this.#when(this.#clock.here(moment) + DELAY) - LOOK_AHEAD;
      const when = Math.max(this.#context.currentTime, due);
      const [kind, channel] = [status & 0xf0, status & 0x0f];
      if (kind === 0x90 && second > 0) when - due < TOO_LATE && this.#begin(channel, first, second, when);
      else if (kind === 0x80 || kind === 0x90) this.#release(channel, first, when);
      else if (kind === 0xb0 && first === 64) this.#press(channel, second >= 64, when);
    }
  }

  /** Let everything die away. */
  fade() {
    if (!this.#context) return;
    for (const voices of this.#ringing.values()) for (const ringing of voices) this.#damp(ringing, this.#context.currentTime);
    this.#ringing.clear();
    this.#held.clear();
    this.#pedal.clear();
  }

  end() {
    setTimeout(() => this.fade(), DELAY + 100);
  }

  /** The context's time at which something must begin to be heard at a moment of performance.now(). */
  #when(moment) {
    const { contextTime, performanceTime } = this.#context.getOutputTimestamp();
    if (performanceTime > 0) return contextTime + (moment - performanceTime) / 1000;
    return this.#context.currentTime + (moment - performance.now()) / 1000 - (this.#context.outputLatency || 0);
  }

  #begin(channel, midi, velocity, when) {
    const [voice, level, pan] = VOICES[channel] ?? VOICES[0];
    let near = null;
    for (const sample of this.#samples.values())
      if (sample.voice === voice && (!near || Math.abs(sample.midi - midi) < Math.abs(near.midi - midi))) near = sample;
    if (!near) return;
    this.#release(channel, midi, when, true);
    const key = `${channel} ${midi}`;
    this.#held.delete(key); // struck again: the pedal going up doesn't end it
    const source = new AudioBufferSourceNode(this.#context, { buffer: near.buffer, playbackRate: 2 ** ((midi - near.midi) / 12) });
    const force = velocity / 127;
    const gain = new GainNode(this.#context, { gain: LOUDNESS * level * force ** 1.4 });
    const bright = new BiquadFilterNode(this.#context, { type: "lowpass", frequency: 900 + 9000 * force ** 1.5, Q: 0.3 });
    source.connect(bright).connect(gain).connect(new StereoPannerNode(this.#context, { pan })).connect(this.#out);
    source.start(when);
    const ringing = { source, gain, when };
    this.#ringing.set(key, [...(this.#ringing.get(key) ?? []), ringing]);
    source.onended = () => {
      const left = (this.#ringing.get(key) ?? []).filter((one) => one !== ringing);
      if (left.length) this.#ringing.set(key, left);
      else this.#ringing.delete(key);
    };
  }

  #release(channel, midi, when, again = false) {
    const key = `${channel} ${midi}`;
    if (this.#pedal.has(channel) && !again) {
      this.#held.set(key, channel);
      return;
    }
    if (channel === 9) return;
    for (const ringing of this.#ringing.get(key) ?? []) this.#damp(ringing, when);
  }

  #press(channel, down, when) {
    if (down) {
      this.#pedal.add(channel);
      return;
    }
    this.#pedal.delete(channel);
    for (const [key, of] of this.#held)
      if (of === channel) {
        this.#held.delete(key);
        for (const ringing of this.#ringing.get(key) ?? []) this.#damp(ringing, when);
      }
  }

  #damp({ source, gain, when: begun }, when) {
    if (begun > when) return source.stop(); // not heard yet, and never to be
    gain.gain.setTargetAtTime(0, when, RELEASE);
    source.stop(when + 8 * RELEASE);
  }
}

/** Loudness in, loudness out: straight up to STRAIGHT, then ever flatter, and never quite full scale. */
function bent(points = 4097) {
  const rest = 1 - STRAIGHT;
  return Float32Array.from({ length: points }, (_, n) => {
    const x = (2 * n) / (points - 1) - 1;
    const over = Math.abs(x) - STRAIGHT;
    return over <= 0 ? x : Math.sign(x) * (STRAIGHT + rest * 0.95 * Math.tanh(over / rest));
  });
}
