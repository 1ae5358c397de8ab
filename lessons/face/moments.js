// Going about in a moving picture: how slowly it plays, a step back or on, and a jump to the next parting.

import { h, measure } from "./dom.js";

const SLOWER = [1, 4, 20];  // times slower than the picture is meant to be shown
const STEPS = 400;          // of a picture, from end to end

export class Moments {
  slower = 1;

  /** `clock` is the moment shared with the picture; `halt` stops its playing. */
  constructor(clock, halt) {
    this.clock = clock;
    const go = (to) => () => { halt(); clock.set(to()); };
    this.jump = h("button", {type: "button", class: "jump", onclick: go(() => this.#next())}, "To the parting");
    this.pace = h("select", {id: "pace", onchange: () => (this.slower = SLOWER[this.pace.selectedIndex])});
    this.node = h("div", {class: "moments"}, this.jump,
      h("button", {type: "button", class: "step", "aria-label": "A step back", onclick: go(() => this.#step(-1))}, "\u2039"),
      h("button", {type: "button", class: "step", "aria-label": "A step on", onclick: go(() => this.#step(1))}, "\u203a"),
      h("label", {for: "pace"}, "Slowed"), this.pace);
  }

  show({time, slowdown, moments}) {
    this.time = time;
    this.partings = moments.filter(({shape}) => shape === "part").map(({x}) => x);
    this.jump.hidden = this.partings.length === 0;
    this.jump.textContent = this.partings.length > 1 ? "To the next parting" : "To the parting";
    if (this.slowdown === slowdown) return;
    this.slowdown = slowdown;
    this.pace.replaceChildren(...SLOWER.map((times) => h("option", {}, measure(String(times * slowdown), "times"))));
    this.pace.selectedIndex = SLOWER.indexOf(this.slower);
  }

  #step(by) {
    const [from, to] = [this.time[0], this.time[this.time.length - 1]];
    return Math.min(to, Math.max(from, this.clock.now + (by * (to - from)) / STEPS));
  }

  #next() {
    return this.partings.find((at) => at > this.clock.now + 1e-6) ?? this.partings[0];
  }
}
