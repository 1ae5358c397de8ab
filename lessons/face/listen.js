// To hear what a panel shows: the engine makes the sound of that very run, and it is played when asked for and not before.
// Soft at first, never beyond the limit that the samples keep, and the words say the same to those who cannot hear it.

import { h } from "./dom.js";

const SOFT = 25;  // percent of the loudest that the samples allow, until the listener says otherwise

export class Listen {
  #source = null;
  #asked = 0;      // the newest question; the answer to an older one is not played
  #slowed = 1;

  /** `ask(slowed)` resolves to the engine's sound; `slowed` is how many times slower it may be played too. */
  constructor(ask, slowed) {
    this.ask = ask;
    this.buttons = [[1, "Listen"], [slowed, `Listen, slowed ${slowed} times`]].map(([times, words]) => {
      const button = h("button", {type: "button", class: times === 1 ? "hear" : "hear slowly", "aria-pressed": "false", onclick: () => (button.getAttribute("aria-pressed") === "true" ? this.stop() : this.#play(times))}, words);
      Object.assign(button, {times, words});
      return button;
    });
    this.volume = h("input", {type: "range", id: "volume", min: 0, max: 100, step: 5, value: SOFT, oninput: () => this.#loudness()});
    this.loud = h("div", {class: "volume", hidden: true}, h("label", {for: "volume"}, "Volume"), this.volume);
    this.words = h("p", {class: "heard", role: "status"});
    this.node = h("div", {class: "listen"}, ...this.buttons, this.loud, this.words);
  }

  /** The controls have moved: what is being heard is asked for anew. */
  follow() {
    if (this.#source) this.#play(this.#slowed);
  }

  stop() {
    this.#asked += 1;
    this.#source?.stop();
    this.#source = null;
    this.#mark(null);
  }

  async #play(slowed) {
    const mine = (this.#asked += 1);
    this.#slowed = slowed;
    this.#mark(slowed);
    let sound, context = null;
    try {
      context = this.#context();  // within the press: a browser lets no page sound before one
    } catch { /* said below, with the words that stand in for the sound */ }
    try {
      sound = await this.ask(slowed);
    } catch (fault) {
      if (mine === this.#asked) this.#end(fault.message);
      return;
    }
    if (mine !== this.#asked) return;
    this.#source?.stop();
    this.#source = null;
    try {
      await this.#start(context, sound, mine);
      if (mine === this.#asked) this.words.textContent = slowed === 1 ? sound.words : `${sound.words} Heard ${slowed} times slower than life.`;
    } catch {
      if (mine === this.#asked) this.#end(`This browser gives no sound here. What you would hear: ${sound.words}`);
    }
  }

  #context() {
    this.audio ??= new AudioContext();
    this.allowed = this.audio.state === "suspended" ? this.audio.resume().then(() => true, () => false) : Promise.resolve(true);
    return this.audio;
  }

  async #start(context, {samples, rate}, mine) {
    if (!(await this.allowed)) throw new Error("the browser allows no sound");
    const buffer = context.createBuffer(1, samples.length, rate);
    buffer.copyToChannel(Float32Array.from(samples), 0);
    if (mine !== this.#asked) return;
    this.gain ??= new GainNode(context);
    this.gain.connect(context.destination);
    this.loud.hidden = false;
    this.#loudness();
    const source = (this.#source = new AudioBufferSourceNode(context, {buffer}));
    source.connect(this.gain);
    source.onended = () => { if (this.#source === source) this.#end(); };
    source.start();
  }

  #loudness() {
    if (this.gain) this.gain.gain.value = (this.volume.valueAsNumber / 100) ** 2;  // an ear goes by ratios
    this.volume.setAttribute("aria-valuetext", `${this.volume.value} percent`);
  }

  #end(words) {
    this.#source = null;
    if (words !== undefined) this.words.textContent = words;
    this.#mark(null);
  }

  #mark(slowed) {
    for (const button of this.buttons) button.setAttribute("aria-pressed", String(button.times === slowed));
    for (const button of this.buttons) button.firstChild.textContent = button.times === slowed ? "Stop" : button.words;
  }
}
