// <coil-panel name="...">: the question, the controls, the sentence and readings, and whatever the picture holds.
//
// Attributes, each optional:
//   values    JSON of the slider positions to begin with
//   controls  symbols of the controls to offer; the others stay where they are
//   parts     what to draw of the picture: drawing, scene, ladder, map, strips, charts, or one of the last two by its key, "strips.current"
//   readings  labels of the readings to show, with "|" between them
//   view      "compact": fills the height that the page gives it, in large type, without titles and buttons (the talk)

import { FaceElement } from "./base.js";
import { Clock } from "./clock.js";
import { h, painted, quantity, withUnit } from "./dom.js";
import { BarsDrawings } from "./draw_bars.js";
import { DrawingDrawing } from "./draw_drawing.js";
import { LadderDrawing } from "./draw_ladder.js";
import { MapDrawing } from "./draw_map.js";
import { Plot } from "./draw_plot.js";
import { SceneDrawing } from "./draw_scene.js";

const REST = 300;  // ms without a change after which a slider counts as at rest

const SIDES = [["drawing", "scene", "ladder", "map"], ["bars", "strips", "charts"]];  // side by side where there is room, else one under another

const someOf = (list) => (list.length ? list : null);

/** Leave of a picture what the words of `parts` name. */
function partsOf(picture, words) {
  const part = (name) => (words.includes(name) ? picture[name] : null);
  const list = (name) => (words.includes(name) ? picture[name] : picture[name].filter(({key}) => words.includes(`${name}.${key}`)));
  return {...picture, drawing: part("drawing"), scene: part("scene"), ladder: part("ladder"), map: part("map"), strips: list("strips"), charts: list("charts"), bars: list("bars")};
}

export class CoilPanel extends FaceElement {
  // An exercise that embeds a panel sets these before it is connected.
  only = null;    // the symbols of the controls to show; all where null
  fixed = {};     // values held, and said to be so
  start = {};     // values to begin with, in place of the defaults

  values = {};
  #settings = new Map();  // symbol -> {set(value)}
  #flying = false;
  #asked = null;          // {oldest, newest, whole}: times of the changes that no picture has answered yet
  #rest = 0;              // timer: the controls have come to rest

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
    const {panel, picture} = await this.request({do: "panel", name: this.name, ...(elsewhere && this.compact ? {values: begun} : {})});
    this.panel = panel;
    this.#build();
    this.values = this.#atStart();
    this.#showValues();
    this.live(this.section);
    if (elsewhere && !this.compact) return this.#changed(performance.now());
    this.draw(picture);
    this.#tellPainted(null);
  }

  #atStart() {
    const defaults = Object.fromEntries(this.panel.controls.map((control) => [control.symbol, control.optional ? null : control.default]));
    return {...defaults, ...this.start, ...this.fixed};
  }

  // ------------------------------------------------------------------------------------------------ building
  #build() {
    const {panel} = this;
    const offered = this.only ?? this.#listed("controls");
    const shown = panel.controls.filter((control) => !(control.symbol in this.fixed) && (offered?.includes(control.symbol) ?? true));
    const held = panel.controls.filter((control) => control.symbol in this.fixed);
    this.say = h("p", {class: "say", "aria-live": "polite"});
    this.sentence = h("p", {class: "sentence"});
    this.settled = h("p", {class: "unseen", "aria-live": "polite"});
    this.readings = h("dl", {class: "readings"});
    this.trouble = h("p", {class: "trouble", role: "alert", hidden: true});
    this.alt = h("p", {id: "alt"});
    this.figures = h("div", {class: "figures", role: "group", "aria-label": `Picture: ${panel.title}`, "aria-describedby": "alt"});
    const controls = h("div", {class: "controls"},
      ...shown.map((control) => (control.type === "choice" ? this.#choice(control) : this.#slider(control))),
      held.length ? h("p", {class: "soft small"}, "Held: ", held.map((c) => `${c.label} ${c.type === "choice" ? c.options.find(([value]) => value === this.fixed[c.symbol])?.[1] : quantity(this.fixed[c.symbol], c.unit, c.step)}`).join("; ")) : null,
      this.compact || !panel.controls.length ? null : h("div", {class: "buttons"},
        ...(this.only ? [] : panel.presets.map((preset) => h("button", {type: "button", onclick: () => this.#preset(preset)}, preset.label))),
        h("button", {type: "button", class: "quiet", onclick: () => this.#reset()}, "Reset"),
        this.#whyButton(),
      ),
      this.say,
    );
    this.controls = controls;
    this.alt.className = this.compact ? "unseen" : "";
    this.section = this.compact ? h("section", {class: "panel compact", "aria-label": panel.title}, this.trouble, this.sentence, this.settled, this.figures,
      this.readings, controls, this.alt) : h("section", {class: "panel", "aria-labelledby": "title"},
      h("h3", {id: "title"}, panel.title),
      panel.question && !this.only ? h("p", {class: "question"}, h("strong", {}, "Predict first: "), panel.question) : null,
      h("div", {class: panel.controls.length ? "columns" : "columns bare"}, controls,
        h("div", {class: "picture"}, this.trouble, this.sentence, this.settled, this.readings, this.figures,
          h("details", {class: "alt"}, h("summary", {}, "The picture in words"), this.alt))),
    );
    new ResizeObserver(([{contentRect}]) => this.#resized(Math.floor(contentRect.width), Math.floor(contentRect.height))).observe(this.figures);
  }

  #whyButton() {
    const button = h("button", {type: "button", class: "quiet", "aria-expanded": "false"}, "Why each matters");
    button.addEventListener("click", () => {
      const open = this.controls.classList.toggle("with-why");
      button.setAttribute("aria-expanded", String(open));
    });
    return button;
  }

  /** A slider; an optional one has a box for "taken" before it, and is taken in by moving it. */
  #slider({symbol, label, unit, low, high, step, why, optional, default: rest}) {
    const id = `c-${symbol}`;
    const output = h("output", {for: id});
    const input = h("input", {type: "range", id, name: symbol, min: low, max: high, step, value: rest, "aria-describedby": `${id}-why`});
    const box = optional ? h("input", {type: "checkbox", id: `${id}-taken`, "aria-label": `${label}: taken`}) : null;
    const take = (value) => (event) => {
      this.values[symbol] = value();
      write();
      this.#changed(event.timeStamp);
    };
    input.addEventListener("input", take(() => input.valueAsNumber));
    box?.addEventListener("change", take(() => (box.checked ? input.valueAsNumber : null)));
    const write = () => {
      const value = this.values[symbol], missing = value === null;
      const text = missing ? "not taken" : quantity(value, unit, step);
      output.textContent = text;
      input.setAttribute("aria-valuetext", text);
      input.classList.toggle("missing", missing);
      if (box) box.checked = !missing;
    };
    this.#settings.set(symbol, () => { if (this.values[symbol] !== null) input.value = this.values[symbol]; write(); });
    return h("div", {class: optional ? "control optional" : "control"}, h("label", {for: id}, label, h("span", {class: "unseen"}, ` ${withUnit("", unit)}`)), output,
      box ? h("label", {class: "taken"}, box) : null, input, h("p", {class: "why", id: `${id}-why`}, why));
  }

  #choice({symbol, label, options, why}) {
    const id = `c-${symbol}`;
    const take = (event) => {
      this.values[symbol] = event.target.value;
      this.#changed(event.timeStamp);
    };
    const whyText = h("p", {class: "why", id: `${id}-why`}, why);
    if (options.length > 5 || this.compact) {
      const select = h("select", {id, "aria-describedby": `${id}-why`, onchange: take}, ...options.map(([value, text]) => h("option", {value}, text)));
      this.#settings.set(symbol, () => (select.value = this.values[symbol]));
      return h("div", {class: "control"}, h("label", {for: id}, label), select, whyText);
    }
    const radios = options.map(([value, text]) => {
      const input = h("input", {type: "radio", name: symbol, value, onchange: take});
      return [input, h("label", {class: "option"}, input, text)];
    });
    this.#settings.set(symbol, () => radios.forEach(([input]) => (input.checked = input.value === this.values[symbol])));
    return h("fieldset", {class: "control", "aria-describedby": `${id}-why`}, h("legend", {}, label), ...radios.map(([, node]) => node), whyText);
  }

  // ------------------------------------------------------------------------------------------------ changing
  /** Set some controls from outside (an exercise, a talk); the picture follows. */
  set(values) {
    Object.assign(this.values, values);
    this.#showValues();
    this.#changed(performance.now());
  }

  #preset(preset) {
    this.say.textContent = preset.say;
    this.set({...this.#atStart(), ...preset.values});
  }

  /** Back to the positions that it began with; the talk has a key for it. */
  restart() {
    this.#reset();
  }

  #reset() {
    this.say.textContent = "";
    this.set(this.#atStart());
  }

  #showValues() {
    for (const set of this.#settings.values()) set();
  }

  #changed(time) {
    this.#asked = {oldest: this.#asked?.oldest ?? time, newest: time, whole: false};
    clearTimeout(this.#rest);
    this.#rest = setTimeout(() => this.#rested(time), REST);
    this.dispatchEvent(new CustomEvent("coil-changed", {bubbles: true, composed: true, detail: {name: this.name, values: {...this.values}}}));
    if (!this.#flying) this.#fly();
  }

  /** A moving slider gets the quick picture, where a panel has one; one at rest gets the whole. */
  #rested(time) {
    this.#asked = {oldest: time, newest: time, whole: true};
    if (!this.#flying) this.#fly();
  }

  /** One question in flight; while it is, only the newest values wait. So a drag never builds a queue. */
  async #fly() {
    this.#flying = true;
    while (this.#asked) {
      const asked = this.#asked;
      this.#asked = null;
      try {
        const {picture} = await this.request({do: "compute", name: this.name, values: {...this.values}, whole: asked.whole});
        this.draw(picture, asked.whole);
        this.dataset.state = "live";
        this.trouble.hidden = true;
        this.#tellPainted(asked);
      } catch (fault) {  // the engine's sentence; the last good picture stays
        if (this.dataset.state === "stopped") break;
        this.dataset.state = "error";
        this.trouble.hidden = false;
        this.trouble.textContent = fault.message;
      }
    }
    this.#flying = false;
  }

  /** For benchmarks: `ms` from the newest change that this picture answers to its paint, `waited` from the oldest; null at the start. */
  async #tellPainted(asked) {
    const now = await painted();
    const detail = {name: this.name, whole: asked?.whole ?? true, ms: asked && now - asked.newest, waited: asked && now - asked.oldest};
    this.dispatchEvent(new CustomEvent("coil-painted", {bubbles: true, composed: true, detail}));
  }

  // ------------------------------------------------------------------------------------------------- drawing
  /** Show a picture. A quick one leaves out what is slow to compute: that part of the last whole picture stays, paled. */
  draw(picture, whole = true) {
    const words = this.#listed("parts");
    const kept = words ? partsOf(picture, words) : picture;
    const parts = Object.entries({
      drawing: kept.drawing, scene: kept.scene, strips: someOf(kept.strips), ladder: kept.ladder, charts: someOf(kept.charts), map: kept.map, bars: someOf(kept.bars),
    });
    this.parts = Object.fromEntries(parts.map(([part, now]) => {
      const last = this.parts?.[part];
      return [part, now ? {now, pale: false} : !whole && last ? {now: last.now, pale: true} : null];
    }));
    this.sentence.textContent = picture.sentence;
    this.alt.textContent = picture.alt;
    const labels = this.#listed("readings", "|");
    const readings = labels ? picture.readings.filter(({label}) => labels.includes(label)) : picture.readings;
    this.readings.replaceChildren(...readings.map(({label, text}) => h("div", {}, h("dt", {}, label), h("dd", {}, text))));
    if (whole) this.settled.textContent = picture.sentence;  // a screen reader hears where the slider came to rest, not every step
    this.#drawFigures();
  }

  restyle() {
    this.#drawFigures();
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

  /** Draw for this width instead of the one on the screen; null goes back to that. */
  fit(width) {
    this.width = width ?? this.seenWidth;
    this.#drawFigures();
  }

  /** Draw every part that the picture has; drawings are kept from picture to picture and made only when a part is new. */
  #drawFigures() {
    if (!this.parts || !this.width) return;
    this.drawings ??= this.#newDrawings();
    const {drawings, parts, theme} = this;
    const two = !this.compact && this.width >= 760 && SIDES.every((side) => side.some((name) => parts[name]));
    const beside = this.compact ? Object.values(parts).filter(Boolean).length : two ? 2 : 1;  // a compact panel has all its parts in a row
    const width = Math.floor((this.width - 20 * (beside - 1)) / beside);
    const scale = this.compact ? parseFloat(getComputedStyle(this).fontSize) / 15 : 1;  // lettering grows with the page's type
    const across = this.compact ? Math.floor(Math.min(width, 1.25 * this.seenHeight) / scale) : width;  // an SVG, enlarged to fit, wider would be too high
    this.figures.classList.toggle("two", two);
    for (const [name, drawing] of Object.entries(drawings)) {
      const part = parts[name];
      drawing.node.hidden = !part;
      drawing.node.classList.toggle("pale", Boolean(part?.pale));
    }
    for (const [name, drawing] of Object.entries(drawings)) {  // only now does each have its place
      const part = parts[name];
      if (part && !part.pale) drawing.show(part.now, theme, drawing.scales ? width : name === "bars" ? Math.floor(width / scale) : across, this.compact ? scale : null);
    }
  }

  #newDrawings() {
    const clock = new Clock();
    const drawings = {drawing: new DrawingDrawing(), scene: new SceneDrawing(clock), strips: new Strips(clock), ladder: new LadderDrawing(), charts: new Charts(), map: new MapDrawing(), bars: new BarsDrawings()};
    this.clock = clock;
    this.figures.append(...SIDES.map((side) => h("div", {class: "side"}, ...side.map((name) => drawings[name].node))));
    return drawings;
  }

  disconnectedCallback() {
    super.disconnectedCallback();
    this.drawings?.scene.stop();
  }
}

/** Keep a list of plots as long as the list of charts. */
function match(plots, charts, make, node) {
  while (plots.length > charts.length) plots.pop().destroy();
  while (plots.length < charts.length) {
    const plot = make();
    plots.push(plot);
    node.append(plot.node);
  }
}

/** Strips share the x axis, the span looked at and (where x is time in ms) the moment of the moving picture. */
class Strips {
  scales = true;  // by itself; a drawing of SVG is drawn small and enlarged by the style sheet
  zoom = null;
  #plots = [];

  constructor(clock) {
    this.clock = clock;
    this.stack = h("div");
    this.node = h("div", {class: "strips"}, this.stack);
    this.whole = h("button", {type: "button", class: "quiet", onclick: () => this.onzoom(null), disabled: true}, "Whole span");
    const closer = h("button", {type: "button", class: "quiet", onclick: () => this.#closer()}, "Look closer");
    this.node.append(h("div", {class: "buttons"}, closer, this.whole, h("span", {class: "soft small"}, "at the upright line, or drag across a strip")));
    clock.watch((now) => this.#move(now));
  }

  show(charts, theme, width, scale) {
    match(this.#plots, charts, () => new Plot(this, 104), this.stack);
    charts.forEach((chart, i) => this.#plots[i].show(chart, theme, width, i === charts.length - 1, scale));
    this.#move(this.clock.now);
    if (scale) for (const plot of this.#plots) plot.resize(width);  // once all have their captions, each knows its height
  }

  onmoment(moment, _plot, pressed) {
    if (moment === null || (this.clock.playing && !pressed)) return;
    this.clock.set(moment);
  }

  onzoom(span) {
    this.zoom = span;
    this.whole.disabled = span === null;
    for (const plot of this.#plots) plot.rescale();
  }

  #move(now) {
    for (const plot of this.#plots) plot.at(now);
  }

  /** A quarter of what is seen now, about the moment: the way to come closer without a mouse. */
  #closer() {
    const [low, high] = this.zoom ?? this.#plots[0].span();
    const quarter = (high - low) / 4;
    const from = Math.min(Math.max(this.clock.now - quarter / 2, low), high - quarter);
    this.onzoom([from, from + quarter]);
  }
}

/** Charts stand each for itself. */
class Charts {
  scales = true;
  #plots = [];

  constructor() {
    this.node = h("div", {class: "charts"});
  }

  show(charts, theme, width, scale) {
    match(this.#plots, charts, () => {
      const alone = {
        zoom: null,
        onmoment: (x, plot) => plot.at(x),
        onzoom: (span) => { alone.zoom = span; alone.plot.rescale(); },
      };
      return (alone.plot = new Plot(alone, 220));
    }, this.node);
    charts.forEach((chart, i) => this.#plots[i].show(chart, theme, width, true, scale));
    if (scale) for (const plot of this.#plots) plot.resize(width);
  }
}
