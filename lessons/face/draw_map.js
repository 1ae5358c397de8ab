// The tension map: a whole number (sparks per pulse, say) over two settings. Pattern, digit and words repeat what the hue says.
// A fine map comes without its cells (`later` says what they depend on) and is filled while the reader looks on; a click on any
// map takes the panel to the setting of that cell.

import { HUES } from "./assembled.js";
import { axisWords, h, s, measure, ticks, tickText, withUnit } from "./dom.js";
import { Filling } from "./filling.js";

const MAP = {left: 56, right: 12, top: 8, bottom: 56};
let made = 0;  // patterns need names of their own in a page

const STROKES = {
  cross: "M0 0L8 8M8 0L0 8", rising: "M-2 2L2 -2M0 8L8 0M6 10L10 6", falling: "M-2 6L2 10M0 0L8 8M6 -2L10 2", level: "M0 4H8",
  dots: "M2 2h2v2h-2zM6 6h2v2h-2z", none: "",
};

const BLANK = {fill: "none", ink: "none", pattern: "none"};  // a cell without a value: nothing but its outline

const style = (value) => value === null ? BLANK : HUES.cells[((value % HUES.cells.length) + HUES.cells.length) % HUES.cells.length];

const short = (value) => Number(value.toPrecision(3));  // a cell that was clicked lies between the slider's steps

/** Where cells begin and end along an axis: halfway between neighbours, and as far beyond the first and last. */
function edges(values) {
  if (values.length === 1) return [values[0] - 0.5, values[0] + 0.5];
  const middles = Array.from(values).slice(1).map((value, i) => (value + values[i]) / 2);
  const last = values.length - 1;
  return [2 * values[0] - middles[0], ...middles, 2 * values[last] - middles[last - 1]];
}

export class MapDrawing {
  #id = `cells-${(made += 1)}`;
  #filling = null;
  #later = null;   // what the cells of the filling depend on
  #before = null;  // the filling before, drawn pale until the first cells of this one have come
  #inSight = null; // resolved while it is in sight, or nearly
  #come = null;    // resolves it
  #seen = false;

  constructor() {
    this.caption = h("figcaption");
    this.svg = s("svg", {role: "img"});
    this.state = h("p", {class: "soft small"});
    this.node = h("figure", {class: "map"}, this.caption, this.svg, this.state);
    this.svg.addEventListener("click", (event) => this.#pick(event));
    const away = () => (this.#inSight = new Promise((resolve) => (this.#come = resolve)));
    away();
    new IntersectionObserver((entries) => {
      if (entries.at(-1).isIntersecting) this.#come();
      else if (this.#seen) away();
      this.#seen = entries.at(-1).isIntersecting;
    }, {rootMargin: "200px 0px"}).observe(this.node);
  }

  /** The panel is gone, or shows another picture: nobody waits for these cells. */
  stop() {
    this.#filling?.stop();
    this.#filling = this.#later = null;
  }

  /** Begin to fill another map; where only the mark on it has moved, the cells stay. */
  #fill(map) {
    if (!map.later || !map.ask) return this.stop();
    if (map.later === this.#later) {
      if (this.#filling.done && map !== this.map) map.filled?.(this.#filling.cells);
      return;
    }
    this.#before = this.#filling?.begun ? this.#filling : this.#before;
    this.#filling?.stop();
    this.#later = map.later;
    this.trouble = "";
    const filling = new Filling({
      columns: map.xs.length, rows: map.ys.length,
      ask: async (places, signal) => {
        await this.#inSight;  // it takes all cores for seconds: not where nobody looks
        return signal.aborted ? [] : this.map.ask(places, signal);  // the map that is shown by now
      },
      changed: () => {
        this.#before = null;
        this.#draw();
        if (filling.done) this.map.filled?.(filling.cells);
      },
      failed: (fault) => {
        this.trouble = fault.message;
        this.#draw();
      },
    });
    this.#filling = filling;
  }

  /** Rows of cells to draw, whether they are out of date, and what to say of the map's making. */
  #cells(map) {
    if (!this.#filling) return {rows: map.cells, stale: false, said: ""};
    const of = this.#filling.begun || !this.#before ? this.#filling : this.#before;
    const rows = Array.from(map.ys, (_, row) => Array.from(map.xs, (_, column) => of.at(row, column)));
    const known = this.#filling.cells.reduce((sum, cell) => sum + (cell !== undefined), 0);
    const said = this.trouble || (this.#filling.done ? "" : `Being worked out: ${known} of ${this.#filling.cells.length} settings.`);
    return {rows, stale: of !== this.#filling, said};
  }

  #pick(event) {
    const {map, across, up} = this;
    if (!map?.pick) return;
    const box = this.svg.getBoundingClientRect(), grown = this.svg.viewBox.baseVal.width / box.width;
    const index = (values, scale, at) => values.reduce((best, value, i) => (Math.abs(scale(value) - at) < Math.abs(scale(values[best]) - at) ? i : best), 0);
    const [x, y] = [(event.clientX - box.left) * grown, (event.clientY - box.top) * grown];
    if (x < this.frame[0] || x > this.frame[1] || y < this.frame[2] || y > this.frame[3]) return;
    map.pick(map.xs[index(Array.from(map.xs), across, x)], map.ys[index(Array.from(map.ys), up, y)]);
  }

  show(map, theme, {width, height, scale}) {
    this.#fill(map);
    Object.assign(this, {map, theme, width, height, scale});
    this.#draw();
  }

  #draw() {
    const {map, theme} = this;
    const look = HUES[theme];
    const [xEdges, yEdges] = [edges(map.xs), edges(map.ys)];
    const {rows, stale, said} = this.#cells(map);
    this.svg.style.cursor = map.pick ? "crosshair" : "";
    this.state.textContent = said;
    this.state.hidden = !said;
    const values = [...new Set(rows.flatMap((row) => Array.from(row)))].filter((value) => value !== undefined)
      .sort((a, b) => (a === null) - (b === null) || a - b);  // the blank ones last
    this.#key(values);  // first: what the key takes of a compact view is not the map's

    const {width, room} = this.#room();
    const wide = Math.max(60, width - MAP.left - MAP.right), high = room ?? Math.min(340, Math.max(150, this.height ?? 0.62 * wide));
    const scale = (list, from, to) => (value) => from + ((value - list[0]) / (list[list.length - 1] - list[0])) * (to - from);
    const across = scale(xEdges, MAP.left, MAP.left + wide), up = scale(yEdges, MAP.top + high, MAP.top);
    const round = (value) => Math.round(value * 10) / 10;
    Object.assign(this, {across, up, frame: [MAP.left, MAP.left + wide, MAP.top, MAP.top + high]});

    const written = (value) => this.#written(value);
    const outlines = new Map(), digits = [];
    const roomy = wide / map.xs.length >= 15 && high / map.ys.length >= 14;
    rows.forEach((row, j) => {
      const cells = Array.from(row);
      for (let from = 0, to = 0; from < cells.length; from = to) {  // a fine map has one outline for a whole run of equal cells
        const value = cells[from];
        for (to = from + 1; !roomy && to < cells.length && cells[to] === value; to++);
        if (value === undefined) continue;
        const [x0, x1, y0, y1] = [across(xEdges[from]), across(xEdges[to]), up(yEdges[j + 1]), up(yEdges[j])].map(round);
        outlines.set(value, `${outlines.get(value) ?? ""}M${x0} ${y0}H${x1}V${y1}H${x0}z`);
        if (roomy && value !== null) digits.push(s("text", {class: "digit", x: (x0 + x1) / 2, y: (y0 + y1) / 2 + 4, "text-anchor": "middle"}, written(value)));
      }
    });
    const foot = MAP.top + high;
    this.svg.replaceChildren(
      s("defs", {}, ...values.map((value) => this.#pattern(value))),
      s("g", {class: stale ? "cells pale" : "cells"}, ...values.map((value) => s("path", {
        class: `cell cell-${value ?? "blank"}`, d: outlines.get(value), fill: `url(#${this.#id}-${value})`, stroke: value === null ? look.rule : roomy ? look.surface : "none", "stroke-width": 0.6,
      }))),
      ...digits,
      ...ticks(map.xs[0], map.xs[map.xs.length - 1], wide / 48).map((v) => s("text", {x: across(v), y: foot + 16, "text-anchor": "middle"}, tickText(v))),
      ...ticks(map.ys[0], map.ys[map.ys.length - 1], high / 40).map((v) => s("text", {x: MAP.left - 6, y: up(v) + 4, "text-anchor": "end"}, tickText(v))),
      axisWords(width / 2, foot + 34, withUnit(map.x.label, map.x.unit), width),
      s("g", {class: "up-words", transform: `translate(12 ${MAP.top + high / 2}) rotate(-90)`}, axisWords(0, 0, withUnit(map.y.label, map.y.unit), high + 2 * MAP.top)),
      this.#keptAt() ? s("g", {class: "kept"}, ...keptHere(across(this.#keptAt()[0]), up(this.#keptAt()[1]))) : "",
      map.here ? s("g", {class: "here"}, ...here(across(map.here[0]), up(map.here[1]))) : "",
    );
    this.svg.setAttribute("width", width);
    this.svg.setAttribute("height", foot + MAP.bottom);
    this.svg.setAttribute("viewBox", `0 0 ${width} ${foot + MAP.bottom}`);
    const setting = this.#setting(), where = setting ? ` The mark is ${setting}.` : "";
    this.svg.setAttribute("aria-label", `${map.title}: ${withUnit(map.y.label, map.y.unit)} against ${withUnit(map.x.label, map.x.unit)}.${where}`);
  }

  /** How wide it is drawn, and how high the cells' field may be (null: in proportion). Enlarged by `scale` it fills its place exactly. */
  #room() {
    const box = this.scale ? this.svg.getBoundingClientRect() : null;
    if (!box?.height) return {width: this.width, room: null};
    return {width: Math.floor(box.width / this.scale), room: Math.max(60, Math.floor(box.height / this.scale) - MAP.top - MAP.bottom)};
  }

  #written(value) {
    return this.map.letters?.[value] ?? String(value);
  }

  /** Where the setting of a kept run lies on this map; null where none is kept, or its map has other axes. */
  #keptAt() {
    const {map, kept} = this;
    return kept?.here && kept.x.label === map.x.label && kept.y.label === map.y.label ? kept.here : null;
  }

  #setting() {
    const {map} = this;
    return map.here ? `your setting, ${measure(short(map.here[0]), map.x.unit)} and ${measure(short(map.here[1]), map.y.unit)}` : "";
  }

  #key(values) {
    const {map} = this, look = HUES[this.theme], setting = this.#setting();
    this.caption.replaceChildren(
      h("strong", {}, map.title),
      ...values.map((value) => h("span", {class: "key"}, this.#sample(value, look), value === null ? `blank: ${map.blank}` : `${this.#written(value)}: ${map.names[value] ?? value}`)),
      // in the key and not beside the mark, where the words would hide the cells
      setting ? h("span", {class: "key here-words"}, s("svg", {class: "swatch", width: 34, height: 34, "aria-hidden": "true"}, ...here(17, 17)), setting) : "",
      this.#keptAt() ? h("span", {class: "key"}, s("svg", {class: "swatch", width: 24, height: 24, "aria-hidden": "true"}, ...keptHere(12, 12)), "kept run") : "",
    );
  }

  #pattern(value, suffix = "") {
    const {fill, ink, pattern} = style(value);
    return s("pattern", {id: `${this.#id}-${value}${suffix}`, width: 8, height: 8, patternUnits: "userSpaceOnUse"},
      s("rect", {width: 8, height: 8, fill}),
      s("path", {d: STROKES[pattern], stroke: pattern === "dots" ? "none" : ink, fill: pattern === "dots" ? ink : "none", "stroke-opacity": 0.45, "fill-opacity": 0.45, "stroke-width": 1}));
  }

  #sample(value, look) {
    return s("svg", {class: "swatch", width: 18, height: 16, "aria-hidden": "true"},
      s("defs", {}, this.#pattern(value, "-key")),
      s("rect", {width: 18, height: 16, fill: `url(#${this.#id}-${value}-key)`, stroke: value === null ? look.edge : "none"}));
  }
}

/** The setting of a kept run: a ring. */
function keptHere(cx, cy) {
  return [
    s("circle", {cx, cy, r: 9, fill: "none", stroke: "#FFFFFF", "stroke-width": 5}),
    s("circle", {cx, cy, r: 9, fill: "none", stroke: "#000000", "stroke-width": 2, "stroke-dasharray": "4 2.5"}),
  ];
}

/** The learner's own setting: a diamond with cross hairs. */
function here(x, y) {
  const cut = `M${x - 9} ${y}L${x} ${y - 9}L${x + 9} ${y}L${x} ${y + 9}zM${x - 15} ${y}H${x + 15}M${x} ${y - 15}V${y + 15}`;
  return [
    s("path", {d: cut, fill: "none", stroke: "#FFFFFF", "stroke-width": 5}),
    s("path", {d: cut, fill: "none", stroke: "#000000", "stroke-width": 2}),
  ];
}
