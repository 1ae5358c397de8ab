// A panel's drawings and where they stand. What the sliders change first is on the stage, in one view with them; the rest is under it.

import { Clock } from "./clock.js";
import { BarsDrawing } from "./draw_bars.js";
import { DrawingDrawing } from "./draw_drawing.js";
import { LadderDrawing } from "./draw_ladder.js";
import { MapDrawing } from "./draw_map.js";
import { SceneDrawing } from "./draw_scene.js";
import { ChartDrawing, Strips } from "./strips.js";

const BETWEEN = 20;      // px between two figures side by side
const TWO = 560;         // px: from here on the stage has two figures side by side
const SMALL = new Set(["scene", "ladder"]);  // these stand side by side on a phone too

const kindOf = (name) => name.split(".")[0];
const SAME = 1e-3;       // of its greatest value; curves nearer than that are the same to the eye

/** The charts of a figure: those of the strips, or the chart itself; of another drawing none. */
const chartsOf = (figure) => (Array.isArray(figure) ? figure : figure?.lines ? [figure] : []).flatMap(({lines}) => lines ?? []);

/** Are the curves of two figures other ones? */
function changed(before, now) {
  const a = chartsOf(before), b = chartsOf(now);
  return a.length !== b.length || a.some(({y}, k) => {
    const other = b[k].y;
    if (y.length !== other.length) return true;
    const most = y.reduce((peak, value) => Math.max(peak, Math.abs(value) || 0), 0);
    for (let i = 0; i < y.length; i++) if (Math.abs(y[i] - other[i]) > SAME * most) return true;
    return false;
  });
}

/**
 * A picture as figures {name: what to draw}, what tells most first. `words` names those wanted (null: all) and `first` those that
 * this panel wants first, both by kind ("strips") or one by its key ("charts.pull"). The strips are one figure: they share an axis.
 */
export function figuresOf(picture, words, first = []) {
  const named = (list, name) => list.includes(name) || list.includes(kindOf(name));
  const wanted = (name) => !words || named(words, name);
  const strips = picture.strips.filter(({key}) => wanted(`strips.${key}`));
  const each = (kind) => picture[kind].map((one) => [`${kind}.${one.key}`, one]).filter(([name]) => wanted(name));
  const one = (kind) => (picture[kind] && wanted(kind) ? [[kind, picture[kind]]] : []);
  const all = [...one("drawing"), ...one("scene"), ...one("ladder"), ...one("map"), ...each("bars"), ...(strips.length ? [["strips", strips]] : []), ...each("charts")];
  const place = ([name]) => (first.findIndex((word) => word === name || word === kindOf(name)) + 1) || first.length + 1;
  return Object.fromEntries(all.sort((a, b) => place(a) - place(b)));
}

/** How high the drawings of the stage may be: in proportion to their width, and never so high that the sliders leave the screen. */
function stageHeight(width, beside, screen) {
  return Math.round(Math.max(110, Math.min((beside ? 0.75 : 0.6) * width, 0.33 * screen, 300)));
}

/** Put these nodes, and no others, on a shelf; nothing is touched where they stand there already. */
function place(shelf, nodes) {
  if (nodes.length !== shelf.children.length || nodes.some((node, i) => node !== shelf.children[i])) shelf.replaceChildren(...nodes);
}

export class Figures {
  clock = new Clock();
  drawings = new Map();  // name -> drawing, kept from picture to picture
  #shown = new Map();    // name -> {now, pale}
  #settled = {};         // name -> figure of the last whole picture: what the controls came to rest on
  #ghosts = {};          // the one that was settled before the last change
  #kept = null;          // the figures of the run that the reader keeps to compare: they take the ghosts' place

  /** `stage` and `rest` are the two places, both as wide as each other; `compact` puts all side by side on the stage. */
  constructor({stage, rest, compact}) {
    Object.assign(this, {stage, rest, compact});
  }

  /** Take a picture's figures. A quick picture leaves out what is slow to compute: that of the last whole picture stays, paled. */
  take(figures, whole) {
    const last = this.#shown;
    const left = whole ? [] : [...last].filter(([name]) => !(name in figures)).map(([name, {now}]) => [name, {now, pale: true}]);
    const now = new Map(Object.entries(figures).map(([name, figure]) => [name, {now: figure, pale: false}]));
    const order = [...last.keys()].filter((name) => now.has(name) || left.some(([other]) => other === name));
    const all = new Map([...now, ...left]);
    if (Object.entries(figures).some(([name, figure]) => name in this.#settled && changed(this.#settled[name], figure))) this.#ghosts = this.#settled;
    if (whole) this.#settled = figures;
    this.#shown = whole ? now : new Map([...order.map((name) => [name, all.get(name)]), ...[...all].filter(([name]) => !order.includes(name))]);
  }

  /** Draw these figures beside what comes next; null: no more, and the ghosts begin anew with the next change. */
  keep(figures) {
    this.#kept = figures;
    this.#ghosts = {};
  }

  get size() {
    return this.#shown.size;
  }

  drawing(name) {
    return this.drawings.get(name);
  }

  /** Draw all, `width` px wide on a screen `screen` px high; in the compact view `height` is that of the stage, and `scale` its type's. */
  draw(theme, {width, height, scale, screen}) {
    const names = [...this.#shown.keys()];
    const staged = this.compact ? names : this.#staged(names, width);
    place(this.stage, staged.map((name) => this.#made(name).node));
    // what one goes about with in a picture stands right under it, and does not take its room on the stage
    const under = [...staged.map((name) => [this.#made(name).tools]), ...names.filter((name) => !staged.includes(name)).map((name) => [this.#made(name).node, this.#made(name).tools])];
    if (!this.compact) place(this.rest, under.flat().filter(Boolean));
    const beside = Math.max(1, staged.length), part = Math.floor((width - BETWEEN * (beside - 1)) / beside);
    const room = this.compact ? null : {width: part, height: stageHeight(part, beside > 1, screen), scale: null, paired: beside > 1};
    for (const [name, {now, pale}] of this.#shown) {
      const drawing = this.drawings.get(name);
      drawing.node.classList.toggle("pale", pale);
      drawing.ghost = this.#kept ? null : this.#ghosts[name];
      drawing.kept = this.#kept?.[name] ?? null;
      if (pale) continue;
      if (!this.compact) drawing.show(now, theme, staged.includes(name) ? room : {width, height: null, scale: null});
      else drawing.show(now, theme, this.#compactRoom(drawing, part, height, scale));
    }
  }

  /** Lettering grows with the page's type: a plot knows how, a drawing of SVG is drawn smaller by so much and enlarged to fit. */
  #compactRoom(drawing, width, height, scale) {
    if (drawing.scales) return {width, height: null, scale};
    const across = drawing instanceof BarsDrawing ? width : Math.min(width, 1.25 * height);  // enlarged to fit, wider would be too high
    return {width: Math.floor(across / scale), height: null, scale};
  }

  #staged(names, width) {
    const pair = names.slice(0, 2).every((name) => SMALL.has(name));
    return names.slice(0, width >= TWO || pair ? 2 : 1);
  }

  #made(name) {
    if (!this.drawings.has(name)) {
      const make = {
        drawing: () => new DrawingDrawing(), scene: () => new SceneDrawing(this.clock), ladder: () => new LadderDrawing(), map: () => new MapDrawing(),
        bars: () => new BarsDrawing(), strips: () => new Strips(this.clock), charts: () => new ChartDrawing(),
      };
      this.drawings.set(name, make[kindOf(name)]());
    }
    return this.drawings.get(name);
  }

  stop() {
    for (const drawing of this.drawings.values()) drawing.stop?.();
  }
}
