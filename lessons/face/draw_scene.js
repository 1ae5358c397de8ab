// The contact set, drawn from its positions in millimetres and moved through one pulse, slowed. It never starts by itself, but
// where a page's element is said to be "moving"; and where less motion is asked for, Play shows one still after another.

import { HUES } from "./assembled.js";
import { Flow } from "./flow.js";
import { Moments } from "./moments.js";
import { fixed, h, indexAt, measure, readAt, s } from "./dom.js";

const HIGH = 270;          // of the picture, in CSS pixels, where nothing else is asked
const SMALL_SCENE = 240;   // px: a narrower picture has no lettering
const BUTTON = 11;         // a contact's height
const SMALLEST_SCENE = 100;         // px: the smallest drawing is so wide, and six tenths of it high
const BLADE = 7;           // a blade's thickness
const ROOMY = 520;         // pixels; in a narrower picture the blades bend through where their names would stand
const STILL = 1500;        // ms that a still is shown where less motion is asked for
const TOUCHING = 0.002;    // mm; under this the contacts count as closed in the words below the picture

/** The moment (ms) to show first: the contacts at their widest, for there a change of either spring is seen. */
function telling({time, vibrator, cushion}) {
  let widest = 0;
  for (let i = 1; i < time.length; i++) if (vibrator[i] - cushion[i] > vibrator[widest] - cushion[widest] + TOUCHING) widest = i;
  return time[widest];
}

const calm = matchMedia("(prefers-reduced-motion: reduce)");

export class SceneDrawing {
  #scene = null;
  #still = 0;
  #frame = 0;

  /** `clock` is the moment shared with the strips; `set` on it moves this picture too. */
  constructor(clock) {
    this.clock = clock;
    this.svg = s("svg", {role: "img"});
    this.words = h("p", {class: "state"});
    this.play = h("button", {type: "button", class: "play", onclick: () => (clock.playing ? this.stop() : this.start())}, "Play");
    this.scrub = h("input", {type: "range", id: "scrub", min: 0, oninput: () => { this.stop(); clock.set(this.scrub.valueAsNumber); }});
    this.moment = h("span", {class: "output"});
    this.caption = h("figcaption");
    this.flow = new Flow();
    this.moments = new Moments(clock, () => this.stop());
    this.tools = this.moments.node;
    this.scale = h("p", {class: "soft small scale"});
    this.transport = h("div", {class: "transport"}, this.play, h("label", {for: "scrub", class: "unseen"}, "Time into the pulse (ms)"), this.scrub, this.moment);
    this.node = h("figure", {class: "scene"}, this.caption, this.svg, this.transport, this.words, this.scale);
    clock.watch(() => this.draw());
  }

  show(scene, theme, {width, height, scale}) {
    const first = this.#scene === null;
    this.#scene = scene;
    this.flow.show(scene);
    this.moments.show(scene);
    const jumps = scale ? this.transport : this.moments.node;  // the talk has no room for the rest of the moments
    if (this.moments.jump.parentNode !== jumps) jumps.prepend(this.moments.jump);
    const high = Math.max(0.6 * SMALLEST_SCENE, Math.min(HIGH, height ?? HIGH)), wide = Math.max(SMALLEST_SCENE, width);  // a place not laid out yet has no size
    const shape = JSON.stringify([theme, wide, high, scene.travel, scene.core_stop, Boolean(this.kept)]);
    if (shape !== this.built) this.#build(theme, wide, high, scene);
    this.built = shape;
    const [from, to] = [scene.time[0], scene.time[scene.time.length - 1]];
    Object.assign(this.scrub, {min: from, max: to, step: (to - from) / 400 || 1});
    if (first || this.clock.now < from || this.clock.now > to) this.clock.set(telling(scene));
    else this.draw();
  }

  start() {
    this.clock.playing = true;
    this.play.textContent = "Pause";
    if (calm.matches) return this.#leaf();
    let before = null;
    const step = (now) => {
      if (!this.clock.playing || !this.node.isConnected) return this.stop();
      const {time, slowdown} = this.#scene;
      const [from, to] = [time[0], time[time.length - 1]];
      const next = this.clock.now + (now - (before ?? now)) / (slowdown * this.moments.slower);
      before = now;
      this.clock.set(next > to ? from : next);
      this.#frame = requestAnimationFrame(step);
    };
    this.#frame = requestAnimationFrame(step);
  }

  stop() {
    this.clock.playing = false;
    this.play.textContent = "Play";
    cancelAnimationFrame(this.#frame);
    clearTimeout(this.#still);
  }

  /** The next of the moments worth a look (where none are named, of eighths of the pulse), and after a while the next again. */
  #leaf() {
    const {time, moments} = this.#scene, [from, to] = [time[0], time[time.length - 1]];
    const stops = moments.length > 1 ? [from, ...moments.map(({x}) => x)] : Array.from({length: 8}, (_, i) => from + ((to - from) * i) / 8);
    this.clock.set(stops.find((x) => x > this.clock.now + 1e-6) ?? stops[0]);
    this.#still = setTimeout(() => (this.clock.playing && this.node.isConnected ? this.#leaf() : this.stop()), STILL);
  }

  /** Move the parts to the clock's moment. Only transforms, two outlines and a few words change. */
  draw() {
    if (!this.#scene || !this.parts) return;
    const {time, vibrator, cushion, current, spark, travel} = this.#scene;
    const now = this.clock.now;
    const [v, c] = [readAt(time, vibrator, now), readAt(time, cushion, now)];
    const sparking = spark[indexAt(time, now)];
    const {low, high, lower, upper, flash} = this.parts;
    const down = this.perMm;
    low.setAttribute("transform", `translate(0 ${this.zero + v * down})`);
    high.setAttribute("transform", `translate(0 ${this.zero + c * down})`);
    lower.setAttribute("d", this.#blade(BUTTON, v));
    upper.setAttribute("d", this.#blade(-BUTTON - BLADE, c));
    flash.setAttribute("visibility", sparking ? "visible" : "hidden");
    this.#drawKept(now);
    const apart = v - c;
    this.flow.draw(now, v * down, c * down, apart > TOUCHING, Boolean(sparking));
    const words = [
      apart > TOUCHING ? `Contacts apart by ${measure(fixed(apart, 2), "mm")}` : "Contacts closed",
      c > -TOUCHING ? "cushion down on the rivet" : c < TOUCHING - travel ? "cushion up against the bridge" : "cushion between bridge and rivet",
      `current ${measure(fixed(readAt(time, current, now), 1), "A")}`,
      ...(sparking ? [apart > TOUCHING ? "spark" : "the spark is going out"] : []),
    ].join("; ") + ".";
    if (this.words.textContent !== words) this.words.textContent = words;
    const said = measure(fixed(now, 2), "ms");
    if (this.scrub.value !== String(now)) this.scrub.value = now;
    if (this.moment.textContent !== said) {
      this.moment.textContent = said;
      this.scrub.setAttribute("aria-valuetext", said);
    }
  }

  /** The blades of the kept run at the same moment, as outlines; none where its pulse is over by then. */
  #drawKept(now) {
    const {kept, parts: {keptBlades}} = this, over = !kept || now > kept.time[kept.time.length - 1];
    [["vibrator", BUTTON], ["cushion", -BUTTON - BLADE]].forEach(([blade, offset], i) =>
      keptBlades[i].setAttribute("d", over ? "" : this.#blade(offset, readAt(kept.time, kept[blade], now))));
  }

  /** A blade from the clamp at the left to its tip, bent by `move` mm at the tip; `offset` is its upper face there. */
  #blade(offset, move) {
    const {clamp, contact, tip} = this.x;
    const rest = this.zero + offset, end = rest + move * this.perMm, middle = (clamp + contact) / 2;
    const edge = (y0, y1) => `${clamp} ${y0}C${middle} ${y0} ${contact - 30} ${y1} ${contact - 14} ${y1}L${tip} ${y1}`;
    const back = `L${tip} ${end + BLADE}L${contact - 14} ${end + BLADE}C${contact - 30} ${end + BLADE} ${middle} ${rest + BLADE} ${clamp} ${rest + BLADE}`;
    return `M${edge(rest, end)}${back}z`;
  }

  /** All that stands still, and the groups that move, for one size and one pair of stops. */
  #build(theme, width, high, {travel, core_stop: coreStop, slowdown}) {
    const look = HUES[theme], small = width < SMALL_SCENE || high < 160;
    const hue = (name) => HUES.quantities[name][theme];
    const above = small ? 34 : 54, coreHigh = small ? 18 : Math.max(20, 0.13 * high), foot = small ? 8 : 26;
    this.node.classList.toggle("small", small);
    this.perMm = (high - above - BUTTON - BLADE - coreHigh - foot) / (travel + coreStop);
    this.zero = above + travel * this.perMm;  // where the contacts' faces meet when the cushion sits on the rivet
    const right = width - 8;
    this.x = {clamp: 34, contact: 0.52 * width, tip: 0.74 * width};
    const {clamp, contact, tip} = this.x, {zero, perMm} = this;
    const bridge = zero - travel * perMm - BUTTON - BLADE, rivet = zero - BUTTON, core = zero + coreStop * perMm + BUTTON + BLADE;
    const pin = tip - 16, gap = {x: right - (small ? 10 : 28), y: core - (small ? 8 : 0)}, half = Math.min(40, 0.16 * width);
    const text = (x, y, words, more = {}) => (small ? "" : s("text", {x, y, ...more}, words));
    const steel = {fill: look.band, stroke: look.ink, "stroke-width": 1.5};
    const contactButton = (y, fill) => s("rect", {x: contact - 10, y, width: 20, height: BUTTON, rx: 2, fill, stroke: look.ink, "stroke-width": 1.5});
    const lowButton = s("g", {class: "vibrator"}, contactButton(0, hue("position")));
    const highButton = s("g", {class: "cushion"}, contactButton(-BUTTON, hue("cushion")));
    const lower = s("path", {class: "vibrator-blade", fill: hue("position"), stroke: look.ink, "stroke-width": 1});
    const upper = s("path", {class: "cushion-blade", fill: hue("cushion"), stroke: look.ink, "stroke-width": 1});
    const flash = s("g", {class: "flash", visibility: "hidden"},
      s("path", {d: `M${gap.x} ${gap.y - 12}l-7 10h7l-6 12 14-15h-7l6-7z`, fill: hue("secondary"), stroke: look.ink, "stroke-width": 1}),
      text(gap.x - 14, gap.y + 4, "spark", {"text-anchor": "end", "font-weight": "bold"}));
    const bar = 0.1 * perMm, dashed = {fill: "none", stroke: look.ink, "stroke-width": 1.3, "stroke-dasharray": "4 3", opacity: 0.75};
    const keptBlades = [0, 1].map(() => s("path", {class: "kept-blade", ...dashed}));
    this.parts = {low: lowButton, high: highButton, lower, upper, flash, keptBlades};
    this.flow.build(theme, {clamp, contact, half, zero, bridge, core, foot: high - foot, gap, button: BUTTON, blade: BLADE, fine: small ? 0.45 : 1});
    this.svg.replaceChildren(
      // the frame on the left holds both blades; the bridge, the rivet and the core are what they meet
      s("rect", {x: 8, y: bridge - 14, width: clamp - 8, height: core - bridge + 14, ...steel}),
      s("rect", {x: clamp, y: bridge - 14, width: pin + 20 - clamp, height: 14, ...steel}),
      s("rect", {x: contact - half, y: core, width: 2 * half, height: coreHigh, ...steel}),
      s("path", {d: Array.from({length: 9}, (_, i) => `M${contact + 0.225 * half * (i - 4)} ${core + 4}v${coreHigh - 8}`).join(""), stroke: look.edge}),
      this.flow.under, lower, upper,
      s("rect", {x: pin - 2, y: bridge, width: 4, height: rivet - bridge + 2, ...steel}),
      s("path", {d: `M${pin - 11} ${rivet}h22q-1 8 -11 8t-11 -8z`, ...steel}),
      lowButton, highButton, ...keptBlades, this.flow.over,
      text(clamp + 4, bridge - 19, "bridge"),
      ...(width < ROOMY ? [] : [text(clamp + 8, zero - BUTTON - BLADE + 20, "cushion blade"), text(clamp + 8, zero + BUTTON + BLADE + 16, "vibrator blade")]),
      text(contact, high - 10, "core", {"text-anchor": "middle"}),
      text(pin + 16, rivet + 9, "limit rivet"),
      // the plug gap, away from the contacts, where the spark is
      s("path", {d: `M${gap.x} ${gap.y - 36}v21m0 30v10`, stroke: look.ink, "stroke-width": 3}),
      text(gap.x, high - 10, "plug gap", {"text-anchor": "middle"}),
      flash,
      // 0.1 mm, at the same scale as the movement
      small ? "" : s("path", {class: "scale-bar", d: `M${clamp + 14} ${high - 26 - bar}v${bar}m-4 0h8m-8 ${-bar}h8`, stroke: look.ink, "stroke-width": 1.5, fill: "none"}),
      text(clamp + 8, high - 10, measure("0.1", "mm")),
    );
    this.svg.setAttribute("width", width);
    this.svg.setAttribute("height", high);
    this.svg.setAttribute("viewBox", `0 0 ${width} ${high}`);
    this.svg.setAttribute("aria-label", "The contact set: a vibrator blade with the lower contact above the core, a cushion blade with the upper contact between bridge and limit rivet.");
    const key = (quantity, words) => h("span", {class: "key"}, s("svg", {class: "swatch", width: 26, height: 10, "aria-hidden": "true"},
      s("rect", {x: 0.5, y: 1.5, width: 25, height: BLADE, fill: hue(quantity), stroke: look.ink})), words);
    const line = (quantity, words, dash) => h("span", {class: "key"}, s("svg", {class: "swatch", width: 26, height: 10, "aria-hidden": "true"},
      s("path", {d: "M0 5H26", stroke: hue(quantity), "stroke-width": 3, "stroke-dasharray": dash})), words);
    this.caption.replaceChildren(h("strong", {}, "The contact set"), line("current", "current", "7 4"), line("force", "flux", "2 3"),
      ...(width < ROOMY ? [key("cushion", "above: cushion blade"), key("position", "below: vibrator blade")] : []),
      ...(this.kept ? [h("span", {class: "key"}, s("svg", {class: "swatch", width: 26, height: 10, "aria-hidden": "true"},
        s("rect", {x: 1, y: 1.5, width: 24, height: BLADE, ...dashed})), "kept run")] : []));
    this.scale.textContent = `Slowed ${slowdown} times or more. Up-and-down movement is to scale (see the 0.1\u00a0mm bar), about ${Math.round(perMm / (96 / 25.4))} times life size; lengths and thicknesses are not.`;
  }
}
