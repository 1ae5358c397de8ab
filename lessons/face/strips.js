// Strips, which share the x axis, the span looked at and (where x is time in ms) the moment of the moving picture; and a chart alone.

import { h } from "./dom.js";
import { Plot } from "./draw_plot.js";

/** Keep a list of plots as long as the list of charts. */
function match(plots, charts, make, node) {
  while (plots.length > charts.length) plots.pop().destroy();
  while (plots.length < charts.length) {
    const plot = make();
    plots.push(plot);
    node.append(plot.node);
  }
}

export class Strips {
  scales = true;  // by itself; a drawing of SVG is drawn small and enlarged by the style sheet
  zoom = null;
  #plots = [];

  constructor(clock) {
    this.clock = clock;
    this.node = h("div", {class: "strips"});
    this.whole = h("button", {type: "button", class: "quiet", onclick: () => this.onzoom(null), disabled: true}, "Whole span");
    const closer = h("button", {type: "button", class: "quiet", onclick: () => this.#closer()}, "Look closer");
    this.tools = h("div", {class: "buttons closer"}, closer, this.whole, h("span", {class: "soft small"}, "at the upright line, or drag across a strip"));
    clock.watch((now) => this.#move(now));
  }

  show(charts, theme, {width, height, scale}) {
    match(this.#plots, charts, () => new Plot(this), this.node);
    const of = (charts, {key}) => charts?.find((each) => each.key === key) ?? null;
    const high = height ? Math.min(104, Math.max(46, (1.5 * height) / charts.length - 28)) : 104;
    charts.forEach((chart, i) => this.#plots[i].show(chart, theme, width, {last: i === charts.length - 1, scale, height: high, first: i === 0, ghost: of(this.ghost, chart), kept: of(this.kept, chart)}));
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

/** A chart stands for itself: its own span and its own upright line. */
export class ChartDrawing {
  scales = true;
  zoom = null;

  constructor() {
    this.plot = new Plot(this);
    this.node = this.plot.node;
  }

  show(chart, theme, {width, height, scale}) {
    this.plot.show(chart, theme, width, {last: true, scale, height: height ? Math.min(220, Math.max(110, height)) : 220, first: true, ghost: this.ghost, kept: this.kept});
    if (scale) this.plot.resize(width);
  }

  onmoment(x) {
    this.plot.at(x);
  }

  onzoom(span) {
    this.zoom = span;
    this.plot.rescale();
  }
}
