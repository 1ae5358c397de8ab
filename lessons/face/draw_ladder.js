// The spark ladder: crank angle across, pulse number upward, a mark for each spark. A good coil draws one straight column.
// Where the panel can show any pulse of the run, a click on a row shows that one, and so do the arrow keys.

import { HUES } from "./assembled.js";
import { axisWords, h, s, ticks, tickText, withUnit } from "./dom.js";

const LADDER = {left: 44, named: 80, right: 12, top: 8, bottom: 56};
const SMALL_LADDER = {left: 22, named: 52, right: 6, top: 3, bottom: 30};
const HALVED = 12;         // px: rows as high as that can be halved, for the ladder of a kept run
const BETWEEN_PANES = 6;
const SMALL_WIDTH = 240;  // px: in a narrower place the lettering is less, and smaller

/** One mark's outline around (0, 0): first spark a solid bar, second an open triangle, third and later an open square. */
const OUTLINES = [
  {name: "first spark", solid: true, draw: (x, y, r) => `M${x - 0.5 * r} ${y - r}h${r}v${2 * r}h${-r}z`},
  {name: "second spark", solid: false, draw: (x, y, r) => `M${x} ${y - r}L${x + r} ${y + r}H${x - r}z`},
  {name: "third and later", solid: false, draw: (x, y, r) => `M${x - r} ${y - r}h${2 * r}v${2 * r}h${-2 * r}z`},
];
/** A spark too weak to light the charge: the same outline, but small and hollow, so that it differs in more than its shade. */
const WEAK = {name: "too weak to light", share: 0.6};
const HUE_OF = ["current", "contact_voltage", "cushion"];

export class LadderDrawing {
  constructor() {
    this.caption = h("figcaption");
    this.svg = s("svg", {role: "img"});
    this.node = h("figure", {class: "ladder"}, this.caption, this.svg);
    this.svg.addEventListener("click", (event) => this.#click(event));
    this.svg.addEventListener("keydown", (event) => this.#key(event));
  }

  #click({clientX, clientY}) {
    const box = this.svg.getBoundingClientRect(), grown = this.svg.viewBox.baseVal.height / box.height;
    const [x, y] = [(clientX - box.left) * grown, (clientY - box.top) * grown], {left, right, foot, row} = this.frame;
    if (x >= left && x <= right) this.#pick(Math.floor((foot - y) / row));
  }

  #key(event) {
    const {pulses, shown} = this.ladder;
    const to = {ArrowUp: shown + 1, ArrowRight: shown + 1, ArrowDown: shown - 1, ArrowLeft: shown - 1, Home: 0, End: pulses - 1}[event.key];
    if (to === undefined || !this.ladder.pick) return;
    event.preventDefault();  // or the page would scroll
    this.#pick(to);
  }

  #pick(pulse) {
    const {pick, pulses, shown} = this.ladder;
    if (pulse >= 0 && pulse < pulses && pulse !== shown) pick?.(pulse);
  }

  /** A ladder with a choice is a slider to those who cannot see it; any other one is a picture. */
  #role(ladder) {
    const choice = ladder.pick ? {role: "slider", tabindex: 0, "aria-orientation": "vertical", "aria-valuemin": 1, "aria-valuemax": ladder.pulses,
      "aria-valuenow": ladder.shown + 1, "aria-valuetext": `${ladder.row} ${ladder.shown + 1} is shown`} : {role: "img"};
    for (const name of ["tabindex", "aria-orientation", "aria-valuemin", "aria-valuemax", "aria-valuenow", "aria-valuetext"]) {
      if (!(name in choice)) this.svg.removeAttribute(name);  // taken away and put back, the focus would be gone
    }
    for (const [name, value] of Object.entries(choice)) this.svg.setAttribute(name, value);
    this.svg.style.cursor = ladder.pick ? "pointer" : "";
  }

  /**
   * With a `height` the rows are as high as that leaves; beside the contact set the ladder is as high as set, words and buttons.
   * The ladder of a kept run is drawn in the same frame: each row is halved, and the kept pulse stands in its shaded lower half; where
   * rows are too low for that, the frame is halved, and the kept ladder stands at its right.
   */
  show(ladder, theme, {width, height, scale, paired}) {
    const look = HUES[theme], small = width < SMALL_WIDTH, edges = small ? SMALL_LADDER : LADDER;
    this.node.classList.toggle("small", small);
    const hues = HUE_OF.map((name) => HUES.quantities[name][theme]);
    const kept = this.kept && ["label", "unit"].every((word) => this.kept.x[word] === ladder.x[word]) && this.kept.row === ladder.row ? this.kept : null;
    const both = kept ? [ladder, kept] : [ladder];
    const rows = Math.max(1, ...both.map(({pulses}) => pulses)), edge = ladder.names.length ? edges.named : edges.left;
    const space = height ? height + (paired && !small ? 84 : 10) - edges.top - edges.bottom : 320;
    const row = Math.min(20, Math.max(4, Math.min(space, 320) / rows));
    const high = edges.top + rows * row + edges.bottom, right = width - edges.right, foot = edges.top + rows * row;
    const low = Math.min(...both.map(({x, angle}) => x.low ?? Math.min(0, ...angle)));
    const top = Math.max(...both.map(({x, angle}) => x.high ?? Math.max(1, ...angle)));
    const halved = kept && row >= HALVED, pane = kept && !halved ? (right - edge - BETWEEN_PANES) / 2 : Math.max(0, right - edge);
    const across = (from) => (value) => from + ((value - low) / (top - low)) * pane;
    const up = (share) => (number) => foot - (number + share) * row;
    const r = Math.min(5, 0.42 * (halved ? row / 2 : row));
    const now = told(ladder, {left: edge, across: across(edge), right: edge + pane, up: up(halved ? 0.75 : 0.5), r});
    const left = halved ? edge : right - pane;  // of the kept ladder
    const before = kept && told(kept, {left, across: across(left), right, up: up(halved ? 0.25 : 0.5), r});

    Object.assign(this, {ladder, frame: {left: edge, right: edge + pane, foot, row}});
    this.#role(ladder);

    const panes = kept && !halved ? [edge, left] : [edge];
    const grid = panes.flatMap((from) => ticks(low, top, Math.max(small ? (kept ? 1 : 2) : 3, pane / 70)).map((value) => s("g", {},
      s("line", {x1: across(from)(value), x2: across(from)(value), y1: edges.top, y2: foot, stroke: look.rule}),
      s("text", {x: across(from)(value), y: foot + (small ? 12 : 15), "text-anchor": "middle"}, tickText(value)))));
    const numbers = ticks(1, rows, (rows * row) / 34).filter((n) => Number.isInteger(n) && (n - 1) * row > 20);
    const beside = ladder.names.length ? [...ladder.names].map((name, i) => [i + 1, name]) : [1, ...numbers].map((n) => [n, String(n)]);
    const middle = up(0.5);
    this.svg.replaceChildren(
      ladder.pick ? s("rect", {class: "shown", x: edge, y: middle(ladder.shown) - row / 2, width: pane, height: row, fill: look.rule}) : "",
      halved ? s("path", {class: "kept-rows", d: Array.from({length: rows}, (_, i) => `M${edge} ${round(middle(i))}h${pane}v${row / 2}h${-pane}z`).join(""), fill: look.band, stroke: look.rule, "stroke-width": 0.5}) : "",
      kept && !halved ? s("rect", {class: "kept-rows", x: left, y: edges.top, width: pane, height: rows * row, fill: look.band}) : "",
      ...grid,
      ...beside.map(([n, words]) => s("text", {x: edge - 6, y: middle(n - 1) + 4, "text-anchor": "end"}, words)),
      small ? s("text", {x: right, y: foot + 26, "text-anchor": "end"}, ladder.x.unit) : axisWords(width / 2, foot + 33, withUnit(ladder.x.label, ladder.x.unit), width),
      small ? "" : s("text", {x: 0, y: 0, transform: `translate(12 ${edges.top + (rows * row) / 2}) rotate(-90)`, "text-anchor": "middle"}, ladder.names.length ? `${ladder.row}, in order` : `${ladder.row} number`),
      ...panes.map((from) => s("rect", {x: from, y: edges.top, width: pane, height: rows * row, fill: "none", stroke: look.edge})),
      ...(before ? [s("g", {class: "kept", opacity: 0.7}, ...marks(before, look, hues))] : []),
      ...marks(now, look, hues),
    );
    this.svg.setAttribute("width", width);
    this.svg.setAttribute("height", high);
    this.svg.setAttribute("viewBox", `0 0 ${width} ${high}`);
    this.svg.setAttribute("aria-label", `${ladder.title}: ${inWords(now)}.${before ? ` Kept run: ${inWords(before)}.` : ""}`);
    const {feeble, misfires} = now, seen = [0, 1, 2].filter((kind) => kind === 0 || both.some(({order}) => order.some((each) => Math.min(each, 3) - 1 === kind)));
    const weakest = feeble || before?.feeble, other = scale ? null : before;  // what a key says is room that a ladder in the talk has not
    this.caption.replaceChildren(
      h("strong", {}, ladder.title),
      this.kept ? h("span", {class: "key kept"}, !kept ? "kept run: not on this axis" : halved ? "kept run: the shaded half of each row" : "kept run: at the right, shaded") : "",
      ...seen.map((kind) => h("span", {class: "key"}, icon(OUTLINES[kind].draw(7, 7, 5), hues[kind], OUTLINES[kind].solid), OUTLINES[kind].name)),
      weakest ? h("span", {class: "key"}, icon(OUTLINES[0].draw(7, 7, 5 * WEAK.share), hues[0], false), `small, hollow: ${WEAK.name} (${counted(feeble, other?.feeble)})`) : "",
      h("span", {class: "key"}, ...(misfires.length || before?.misfires.length
        ? [icon(cross(7, 7, 4), look.ink, false), `misfire, no ${weakest ? "spark that lights" : "spark"} (${counted(misfires.length, other?.misfires.length)} of ${ladder.pulses})`] : ["no misfires"])),
      ladder.pick && !(scale && kept) ? h("span", {class: "key"}, `shown: ${ladder.row} ${ladder.shown + 1}, shaded`) : "",
    );
  }
}

const round = (value) => Math.round(value * 100) / 100;

/** A count, and that of the kept run where there is one. */
const counted = (now, kept) => (kept === undefined ? String(now) : `${now}, kept ${kept}`);

/** A ladder's marks at their places: an outline for each kind of spark, strong and weak, how many are weak, and the rows without one that lights. */
function told(ladder, place) {
  const {across, up, r} = place, paths = OUTLINES.map(() => ""), faint = OUTLINES.map(() => "");
  const {angle, pulse, order} = ladder, weak = ladder.weak ?? [];
  const fired = new Set();  // rows with a spark that lights; where weak ones are not told apart, with any
  for (let i = 0; i < angle.length; i++) {
    const kind = Math.min(order[i], 3) - 1, [x, y] = [round(across(angle[i])), round(up(pulse[i]))];
    if (weak[i]) {
      faint[kind] += OUTLINES[kind].draw(x, y, round(WEAK.share * r));
    } else {
      paths[kind] += OUTLINES[kind].draw(x, y, r);
      fired.add(pulse[i]);
    }
  }
  return {ladder, place, paths, faint, feeble: weak.filter(Boolean).length, misfires: Array.from({length: ladder.pulses}, (_, i) => i).filter((i) => !fired.has(i))};
}

/** The nodes that draw what was told of a ladder. */
function marks({place: {left, right, up, r}, paths, faint, misfires}, look, hues) {
  return [
    s("path", {class: "misfires", d: misfires.map((i) => `M${left} ${round(up(i))}H${right}`).join(""), stroke: look.soft, "stroke-width": 1.5, "stroke-dasharray": "2 5", fill: "none"}),
    s("path", {class: "misfires", d: misfires.map((i) => cross(left + 8, round(up(i)), r)).join(""), stroke: look.ink, "stroke-width": 2, fill: "none"}),
    ...paths.map((d, kind) => s("path", {
      class: `sparks-${kind + 1}`, d, fill: OUTLINES[kind].solid ? hues[kind] : "none", stroke: hues[kind], "stroke-width": OUTLINES[kind].solid ? 0.5 : 1.8,
    })),
    ...faint.map((d, kind) => s("path", {class: `weak-${kind + 1}`, d, fill: "none", stroke: hues[kind], "stroke-width": 1.2})),
  ];
}

function inWords({ladder, feeble, misfires}) {
  return `${ladder.angle.length} sparks in ${ladder.pulses} ${ladder.row}s, ${feeble ? `${feeble} of them too weak to light, ` : ""}${misfires.length} without ${feeble ? "a spark that lights" : "a spark"}`;
}

function cross(x, y, r) {
  return `M${x - r} ${y - r}L${x + r} ${y + r}M${x - r} ${y + r}L${x + r} ${y - r}`;
}

function icon(d, hue, solid) {
  return s("svg", {class: "swatch", width: 14, height: 14, "aria-hidden": "true"}, s("path", {d, fill: solid ? hue : "none", stroke: hue, "stroke-width": 1.8}));
}
