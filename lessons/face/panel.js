// <coil-panel name="...">: the question, the controls, the sentence and readings, and whatever the picture holds.
//
// Attributes, each optional:
//   values    JSON of the slider positions to begin with
//   controls  symbols of the controls to offer; the others stay where they are
//   parts     what to draw of the picture: drawing, scene, ladder, map, strips, charts, or one of the last two by its key, "strips.current"
//   readings  labels of the readings to show, with "|" between them
//   moving    the moving picture begins by itself, unless the reader's system asks for less motion (the start page)
//   view      "compact": fills the height that the page gives it, in large type, without titles and buttons (the talk)

import { FaceElement, scrollerOf } from "./base.js";
import { Comparison } from "./compare.js";
import { choiceControl, sliderControl } from "./controls.js";
import { h, painted, quantity } from "./dom.js";
import { Figures, figuresOf } from "./figures.js";
import { linesControl } from "./lines.js";
import { Listen } from "./listen.js";

const REST = 300;   // ms without a change after which a slider counts as at rest
const BELOW = 240;  // px of the screen that a pinned stage leaves to the sliders and to what it is pinned over
const LEAST = 130;  // and at least, so that a longer sentence does not tear it off while a slider moves

export class CoilPanel extends FaceElement {
  // An exercise that embeds a panel sets these before it is connected.
  only = null;    // the symbols of the controls to show; all where null
  fixed = {};     // values held, and said to be so
  start = {};     // values to begin with, in place of the defaults
  kept = false;   // whether what stands on a log stays, with a new sheet only where `renew` offers one

  values = {};
  inWords = "";           // the present picture, told
  #settings = new Map();  // symbol -> {node, set(value)}
  #flying = false;
  #flight = null;         // a promise: the last picture that was asked for has come
  #asked = null;          // {oldest, newest, whole}: times of the changes that no picture has answered yet
  #rest = 0;              // timer: the controls have come to rest
  #refused = "";          // what was asked for and cannot be had, in a sentence
  #onresize = () => this.#measure();

  get name() {
    return this.getAttribute("name");
  }

  get compact() {
    return this.getAttribute("view") === "compact";
  }

  /** The entries of a list in an attribute; null where there is no such attribute. */
  #listed(attribute, between = " ") {
    return this.getAttribute(attribute)?.split(between).filter(Boolean) ?? null;
  }

  async load() {
    this.start = {...JSON.parse(this.getAttribute("values") ?? "{}"), ...this.start};
    const begun = {...this.start, ...this.fixed};
    const elsewhere = Object.keys(begun).length > 0;
    // A compact panel shows nothing of itself before it shows all: the room would see it jump.
    const {panel, picture, early} = await this.request({do: "panel", name: this.name, fill: true, ...(elsewhere && this.compact ? {values: begun} : {})});
    this.panel = panel;
    this.#build();
    this.values = this.#atStart();
    this.#showValues();
    this.live(this.section);
    if (elsewhere && !this.compact) return this.#changed(performance.now());
    this.draw(picture);
    if (early) this.#askAgain();
    await this.#tellPainted(null);
    if (this.hasAttribute("moving") && !matchMedia("(prefers-reduced-motion: reduce)").matches) this.figures.drawing("scene")?.start();
  }

  #atStart() {
    const defaults = Object.fromEntries(this.panel.controls.map((control) => [control.symbol, control.type === "lines" ? [] : control.optional ? null : control.default]));
    return {...defaults, ...this.start, ...this.fixed};
  }

  // ------------------------------------------------------------------------------------------------ building
  #build() {
    const {panel, compact} = this;
    const offered = this.only ?? this.#listed("controls");
    const shown = panel.controls.filter((control) => !(control.symbol in this.fixed) && (offered?.includes(control.symbol) ?? true));
    this.say = h("p", {class: "say"});
    this.sentence = h("p", {class: "sentence"});
    this.told = h("p", {class: "unseen", "aria-live": "polite"});  // the one voice of the panel: it speaks when the controls have come to rest
    this.readings = h("dl", {class: "readings"});
    this.trouble = h("p", {class: "trouble", role: "alert", hidden: true});
    this.alt = h("div", {id: "alt", class: compact ? "unseen" : null});
    const stage = h("div", {class: "figures"}), rest = h("div", {class: "figures"});
    this.figures = new Figures({stage, rest, compact});
    this.comparison = new Comparison((sentence) => this.#compared(sentence), () => this.compareWith({...this.values}).catch(() => {}));  // why there is none, the panel says
    const controls = shown.map((control) => this.#control(control));
    this.listen = panel.slowed ? new Listen((slowed) => this.#sound(slowed), panel.slowed) : null;
    const pictured = {role: "group", "aria-label": `Picture: ${panel.title}`, "aria-describedby": "alt"};
    if (compact) {
      this.controls = h("div", {class: "controls"}, ...controls, this.#held(), this.listen?.node);
      for (const [name, value] of Object.entries(pictured)) stage.setAttribute(name, value);
      // The lines of a log have the place of the drawings, beside them; the last one says what the sentence says.
      const logs = panel.controls.filter(({type}) => type === "lines");
      for (const log of logs) if (!shown.includes(log)) this.#log(log);
      this.sentence.classList.toggle("unseen", logs.length > 0);
      const lines = logs.map(({symbol}) => this.#settings.get(symbol).sheet);
      stage.hidden = this.#listed("parts")?.length === 0;
      const picture = lines.length ? h("div", {class: "worked"}, ...lines, stage) : stage;
      this.section = h("section", {class: "panel compact", "aria-label": panel.title}, this.trouble, this.sentence, this.comparison.words, this.told, picture, this.readings, this.controls, this.alt);
    } else {
      const presets = this.only ? [] : panel.presets.map((preset) => h("button", {type: "button", onclick: () => this.#preset(preset)}, preset.label));
      const reset = h("button", {type: "button", class: "quiet", onclick: () => this.#reset()}, "Reset");
      const tools = panel.controls.length && !this.kept ? h("div", {class: "buttons tools"}, ...this.comparison.buttons, reset, this.#whyButton()) : null;
      this.controls = h("div", {class: "controls"}, ...controls, this.#held(), tools, this.listen?.node);
      this.stage = h("div", {class: "stage"}, this.trouble, h("div", {class: "telling"}, this.say, this.sentence, this.comparison.outcome), stage);
      this.section = h("section", {class: "panel", "aria-labelledby": "title"},
        h("h3", {id: "title"}, panel.title),
        panel.question && !this.only ? h("p", {class: "question"}, h("strong", {}, "Predict first: "), panel.question) : null,
        h("div", {class: panel.controls.length ? `bench${this.#logs.length ? " logged" : ""}` : "bench bare"}, presets.length ? h("div", {class: "buttons presets"}, ...presets) : null, this.controls,
          h("div", {class: "picture", ...pictured}, this.stage,
            h("div", {class: "rest"}, this.comparison.words, this.readings, rest, h("details", {class: "alt"}, h("summary", {}, "The picture in words"), this.alt)))), this.told);
      const column = new ResizeObserver(() => this.#measure());
      for (const node of [this.stage, this.controls]) column.observe(node);
      if (!this.#logs.includes(shown[0]?.symbol)) this.#makeActive(controls[0]);
    }
    new ResizeObserver(([{contentRect}]) => this.#resized(Math.floor(contentRect.width), Math.floor(contentRect.height))).observe(stage);
  }

  /** The symbols of the controls that are logs. */
  get #logs() {
    return this.panel.controls.filter(({type}) => type === "lines").map(({symbol}) => symbol);
  }

  #log(control) {
    const made = linesControl(control, (value, event) => {
      this.values[control.symbol] = value;
      if (this.kept) made.renew(false);  // until this sheet, too, was handed back
      this.#withdraw();
      this.#changed(event.timeStamp);
    }, this.compact);
    made.renew(!this.kept);
    this.#settings.set(control.symbol, made);
    return made.node;
  }

  /** Offer the coil as it came on a new sheet, or not (an exercise, once the coil was handed back). */
  renew(may) {
    for (const symbol of this.#logs) this.#settings.get(symbol)?.renew(may);
  }

  #control(control) {
    if (control.type === "lines") return this.#log(control);
    const change = (value, event) => {
      this.values[control.symbol] = value;
      for (const log of this.panel.controls.filter(({of}) => of === control.symbol)) {  // of another thing: another sheet
        this.values[log.symbol] = [];
        this.#settings.get(log.symbol)?.set([]);
      }
      made.node.classList.add("touched");
      this.#makeActive(made.node);
      this.#withdraw();
      this.#changed(event.timeStamp);
    };
    const made = control.type === "choice" ? choiceControl(control, change, this.compact) : sliderControl(control, change);
    made.node.addEventListener("focusin", () => this.#makeActive(made.node));
    this.#settings.set(control.symbol, made);
    return made.node;
  }

  /** The control in hand stays on a narrow screen, wherever in its panel the reader is; one not touched yet, from its own place on. */
  #makeActive(node) {
    if (!node || node === this.active) return;
    this.active?.classList.remove("active");
    node.classList.add("active");
    this.active = node;
  }

  #held() {
    const held = this.panel.controls.filter((control) => control.symbol in this.fixed);
    const said = ({type, label, options, symbol, unit, step}) => `${label} ${type === "choice" ? options.find(([value]) => value === this.fixed[symbol])?.[1] : quantity(this.fixed[symbol], unit, step)}`;
    return held.length ? h("p", {class: "soft small held"}, "Held: ", held.map(said).join("; ")) : null;
  }

  #whyButton() {
    const button = h("button", {type: "button", class: "quiet", "aria-expanded": "false"}, "Why each matters");
    button.addEventListener("click", () => {
      const open = this.controls.classList.toggle("with-why");
      button.setAttribute("aria-expanded", String(open));
    });
    return button;
  }

  // ------------------------------------------------------------------------------------------------ changing
  /** Set some controls from outside (an exercise, a talk); the picture follows. */
  set(values) {
    Object.assign(this.values, values);
    this.#showValues();
    this.#withdraw();
    this.#changed(performance.now());
  }

  #preset(preset) {
    this.set({...this.#atStart(), ...preset.values});
    this.comment(preset.say);
  }

  /** Back to the positions that it began with, with no run kept; the talk has a key for it. */
  restart() {
    this.comparison.letGo();
    this.#reset();
  }

  /** Keep the run that is drawn, beside what comes next; where one is kept, let it go (the talk has a key for it). */
  compare() {
    if (this.comparison?.run) this.comparison.letGo();
    else this.comparison?.keep();
  }

  /** Keep the run at these values, as the same panel in another window does; null: none. */
  async compareWith(values) {
    if (JSON.stringify(values) === JSON.stringify(this.comparison.run?.values ?? null)) return;
    if (!values) return this.comparison.letGo();
    const {picture} = await this.request({do: "compute", name: this.name, values, whole: true, fill: true});
    this.comparison.take({figures: this.#figured(picture), picture, values});
  }

  #figured(picture) {
    return figuresOf(picture, this.#listed("parts"), this.panel.first);
  }

  #compared(sentence) {
    this.figures.keep(this.comparison.run?.figures ?? null);
    this.#showReadings(this.picture);
    this.#showWords(this.inWords);
    this.told.textContent = sentence;
    this.#drawFigures();
    this.dispatchEvent(new CustomEvent("coil-kept", {bubbles: true, composed: true, detail: {name: this.name, kept: this.comparison.run?.values ?? null}}));
  }

  #reset() {
    this.set(this.#atStart());
  }

  /** What to look at in the picture as it is set now: it stands over the picture, until a control is moved. Spoken at once, or with the picture. */
  comment(sentence, spoken = false) {
    this.say.textContent = sentence;
    this.say.classList.remove("stale");
    if (spoken) this.told.textContent = sentence;
  }

  /** Say that settings were asked for that cannot be had: it stands until a control is moved, whatever picture is still to come. */
  refuse(sentence) {
    this.#refused = sentence;
    this.#untroubled();
  }

  /** Nothing is wrong with the picture; what was refused stands. */
  #untroubled() {
    if (this.#refused && this.trouble.textContent !== this.#refused) this.trouble.textContent = this.#refused;
    this.trouble.hidden = !this.#refused;
  }

  /** A comment on settings that are no more is taken away; its place is kept while the hand is on the slider, or that would jump. */
  #withdraw() {
    this.say.classList.add("stale");
  }

  #showValues() {
    for (const [symbol, {set}] of this.#settings) set(this.values[symbol]);
  }

  #changed(time) {
    this.#refused = "";
    this.#asked = {oldest: this.#asked?.oldest ?? time, newest: time, whole: false};
    this.comparison.moved();
    clearTimeout(this.#rest);
    this.#rest = setTimeout(() => this.#rested(time), REST);
    this.dispatchEvent(new CustomEvent("coil-changed", {bubbles: true, composed: true, detail: {name: this.name, values: {...this.values}}}));
    if (!this.#flying) this.#flight = this.#fly();
  }

  /** A moving slider gets the quick picture, where a panel has one; one at rest gets the whole. */
  #rested(time) {
    this.listen?.follow();
    this.#asked = {oldest: time, newest: time, whole: true};
    if (!this.#flying) this.#flight = this.#fly();
  }

  /** One question in flight; while it is, only the newest values wait. So a drag never builds a queue. */
  async #fly() {
    this.#flying = true;
    while (this.#asked) {
      const asked = this.#asked;
      this.#asked = null;
      try {
        const values = {...this.values};
        const {picture, early} = await this.request({do: "compute", name: this.name, values, whole: asked.whole, fill: true});
        this.draw(picture, asked.whole, values);
        if (early) this.#askAgain();
        this.dataset.state = "live";
        this.#untroubled();
        this.#tellPainted(asked);
      } catch (fault) {
        this.#failed(fault);
        if (this.dataset.state === "stopped") break;
      }
    }
    this.#flying = false;
  }

  /** The engine's sentence; the last good picture stays. */
  #failed(fault) {
    if (this.dataset.state === "stopped") return;
    this.dataset.state = "error";
    this.trouble.hidden = false;
    this.trouble.textContent = fault.message;
  }

  async #sound(slowed) {
    return (await this.request({do: "sound", name: this.name, values: {...this.values}, slowed})).sound;
  }

  /** The picture was made beforehand: the live model draws the same one over it when it has started. */
  #askAgain() {
    document.addEventListener("coil-ready", this.#onready, {once: true});
  }

  /** Nobody waits for it, so a slider that is moved meanwhile goes first, and leaves nothing to be drawn here. */
  #onready = async () => {
    const shown = this.picture, values = {...this.values};
    try {
      const {picture} = await this.request({do: "compute", name: this.name, values, whole: true, fill: true, idle: true});
      if (this.picture !== shown || this.#flying) return;
      this.draw(picture, true, values);
      await this.#tellPainted(null);
    } catch (fault) {
      this.#failed(fault);
    }
  };

  /** For benchmarks: `ms` from the newest change that this picture answers to its paint, `waited` from the oldest; null at the start. */
  async #tellPainted(asked) {
    const now = await painted();
    const detail = {name: this.name, whole: asked?.whole ?? true, ms: asked && now - asked.newest, waited: asked && now - asked.oldest};
    this.dispatchEvent(new CustomEvent("coil-painted", {bubbles: true, composed: true, detail}));
  }

  // ------------------------------------------------------------------------------------------------- drawing
  /** Show a picture, whole or quick. */
  draw(picture, whole = true, values = {...this.values}) {
    this.picture = picture;
    if (picture.map) this.#serve(picture, values);
    if (Number.isInteger(picture.ladder?.shown)) picture.ladder.pick = (pulse) => this.#showPulse(pulse, picture, values);
    const figures = this.#figured(picture);
    this.figures.take(figures, whole);
    this.sentence.textContent = picture.sentence;
    this.#showReadings(picture);
    this.#showWords(picture.alt);
    for (const symbol of this.#logs) this.#settings.get(symbol)?.told(picture.log);
    if (whole) this.#settle();
    this.#drawFigures();
    if (whole && !this.#asked) this.comparison.drawn({figures, picture, values});
  }

  #showReadings(picture) {
    const labels = this.#listed("readings", "|");
    const readings = labels ? picture.readings.filter(({label}) => labels.includes(label)) : picture.readings;
    this.readings.replaceChildren(...readings.map(({label, text}) => h("div", {}, h("dt", {}, label), h("dd", {}, text), this.comparison.reading(label, text))));
    this.comparison.tell(this.panel.controls, this.values);
  }

  /** The picture in words, that of a kept run with it. */
  #showWords(alt) {
    this.inWords = alt;
    this.alt.replaceChildren(...this.comparison.inWords(alt).map((part) => h("p", {}, part)));
  }

  /** At rest: a withdrawn comment leaves its place, and a screen reader hears once what came of it, not every step. */
  #settle() {
    if (this.say.classList.contains("stale")) this.comment("");
    this.told.textContent = [this.say.textContent, this.sentence.textContent, this.say.textContent ? "" : this.comparison.sentence].filter(Boolean).join(" ");
  }

  /** Show another pulse of the same run: its strips and moving picture, the rest stays. */
  async #showPulse(pulse, picture, values) {
    try {
      const {parts} = await this.request({do: "pulse", name: this.name, values, pulse});
      if (this.picture !== picture) return;
      this.draw({...picture, ...parts, map: picture.map && {...picture.map}}, true, values);
      this.#untroubled();
    } catch (fault) {
      this.trouble.hidden = false;
      this.trouble.textContent = fault.message;
    }
  }

  /** Give a picture's map what it asks for: its cells, where they come later, and the way to a cell that is clicked. */
  #serve(picture, values) {
    const {map} = picture, of = {name: this.name, values};
    const free = (symbol) => !(symbol in this.fixed) && (this.only?.includes(symbol) ?? true);
    if (map.sets?.every(free)) map.pick = (x, y) => this.set({[map.sets[0]]: x, [map.sets[1]]: y});
    if (!map.later) return;
    map.ask = async (places, signal) => {
      if (this.#flying) await this.#flight;  // the next picture is on its way: most likely nobody wants these cells
      return signal.aborted ? [] : (await this.request({do: "cells", ...of, places}, signal)).cells;
    };
    map.filled = async (cells) => {
      const {sentence, alt} = await this.request({do: "mapped", ...of, cells});
      if (this.picture !== picture) return;
      this.sentence.textContent = `${picture.sentence} ${sentence}`;
      this.#showWords(`${picture.alt} ${alt}`);
    };
  }

  restyle() {
    this.#drawFigures();
  }

  connectedCallback() {
    super.connectedCallback();
    addEventListener("resize", this.#onresize);
  }

  disconnectedCallback() {
    super.disconnectedCallback();
    removeEventListener("resize", this.#onresize);
    this.figures?.stop();
    this.listen?.stop();
  }

  /**
   * The width is learnt here and nowhere else: reading it at each picture would make the browser lay the page out twice.
   * A compact panel has a height too, and what it drew while it was hidden does not fit.
   */
  #resized(width, height) {
    if (this.compact ? width === this.seenWidth && height === this.seenHeight : !width || width === this.seenWidth) return;
    Object.assign(this, {seenWidth: width, seenHeight: height});
    if (width) this.fit(null);
  }

  /** Tell the style sheet what it cannot know: how high stage and controls are, and what of the screen this panel scrolls in. */
  #measure() {
    const {stage, controls, section} = this;
    if (!stage?.isConnected) return;
    const room = scrollerOf(this).clientHeight, high = stage.offsetHeight;
    if (room !== this.screen) {
      this.screen = room;
      this.#drawFigures();
    }
    const pinned = !this.#logs.length && high + (stage.classList.contains("pinned") ? LEAST : BELOW) <= room;
    stage.classList.toggle("pinned", pinned);
    for (const [name, value] of [["--stage", pinned ? high : 0], ["--room", room], ["--column", controls.offsetHeight]]) section.style.setProperty(name, `${value}px`);
  }

  /** Draw for this width instead of the one on the screen; null goes back to that. */
  fit(width) {
    this.width = width ?? this.seenWidth;
    this.#drawFigures();
  }

  #drawFigures() {
    if (!this.figures?.size || !this.width) return;
    const scale = this.compact ? parseFloat(getComputedStyle(this).fontSize) / 15 : null;  // lettering grows with the page's type
    this.figures.draw(this.theme, {width: this.width, height: this.seenHeight, scale, screen: this.screen ?? innerHeight});
  }
}
