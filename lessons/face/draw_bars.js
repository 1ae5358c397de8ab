// Named rows on one axis: bars (odds, say) or marks (readings against a range). Hatch, bold type and words repeat what length says.

import { HUES } from "./assembled.js";
import { axisWords, h, s, ticks, withUnit } from "./dom.js";

const NARROW = 520;      // px: below it a row's name and words stand above its bar
let hatches = 0;         // patterns need names of their own in a page

export class BarsDrawing {
  #id = `hatch-${(hatches += 1)}`;

  constructor() {
    this.caption = h("figcaption");
    this.svg = s("svg", {role: "img"});
    this.node = h("figure", {class: "rows"}, this.caption, this.svg);
  }

  /** With a `height` (on the stage) and little width the names and words stand over the bars, so that many rows are still seen at once. */
  show({title, x, bars, quantity, shape, tick, bands}, theme, {width, height}) {
    const look = HUES[theme], ink = HUES.quantities[quantity][theme];
    const narrow = width < NARROW, words = Math.max(...bars.map(({text, strong}) => (strong ? 7.6 : 6.8) * text.length + 12));
    const longest = Math.max(...bars.map(({label, text}) => label.length + text.length));
    const over = narrow && Boolean(height) && 5.4 * longest + 12 < width, letters = over ? (6.1 * longest + 12 < width ? "over" : "over small") : null;
    const tight = narrow && !over && 7.4 * longest + 24 > width;  // the words go behind the bar
    const row = over ? 22 : narrow ? 38 : 24, thick = over ? 18 : 13, top = bands.length ? 22 : 6;
    const left = narrow ? 8 : 16 + Math.max(...bars.map(({label, strong}) => (strong ? 7.6 : 6.8) * label.length)), right = narrow && !tight ? width - 14 : Math.max(left + 60, width - words), foot = top + row * bars.length;
    const low = x.low ?? 0, high = x.high ?? 1;
    const across = (value) => left + ((Math.min(high, Math.max(low, value)) - low) / (high - low)) * (right - left);
    const middle = (i) => top + row * i + (narrow && !over ? row - 12 : row / 2), wordsAt = (i) => middle(i) + (over ? 4 : -11);

    this.svg.replaceChildren(
      s("defs", {}, s("pattern", {id: this.#id, width: 6, height: 6, patternUnits: "userSpaceOnUse"},
        s("path", {d: "M-1 1L1 -1M0 6L6 0M5 7L7 5", stroke: ink, "stroke-width": 1.3}))),
      ...bands.flatMap((band) => [
        s("rect", {x: across(band.low), y: top, width: across(band.high) - across(band.low), height: foot - top, fill: look.band, stroke: look.edge, "stroke-dasharray": "4 3"}),
        s("text", {x: (across(band.low) + across(band.high)) / 2, y: top - 7, "text-anchor": "middle"}, band.label)]),
      ...ticks(low, high, Math.max(2, (right - left) / 70)).filter(() => x.label).map((value) => s("g", {},
        s("line", {x1: across(value), x2: across(value), y1: top, y2: foot, stroke: look.rule}),
        s("text", {x: across(value), y: foot + 15, "text-anchor": "middle"}, String(value).replace("-", "\u2212")))),
      s("line", {x1: left, x2: left, y1: top, y2: foot, stroke: look.edge}),
      ...bars.map(({label, value, text, strong, tick: small}, i) => s("g", {class: strong ? "row strong" : "row"},
        value === null ? "" : shape === "point" ? diamond(across(value), middle(i), strong ? ink : look.surface, ink)
          : s("rect", {x: left, y: middle(i) - thick / 2, width: Math.max(1, across(value) - left), height: thick, fill: strong ? ink : `url(#${this.#id})`, stroke: ink}),
        small == null ? "" : s("line", {class: "tick", x1: across(small), x2: across(small), y1: middle(i) - 10, y2: middle(i) + 10, stroke: look.ink, "stroke-width": 2.2}),
        narrow ? s("text", {x: left + (over ? 4 : 0), y: wordsAt(i), class: letters}, label) : s("text", {x: left - 8, y: middle(i) + 4, "text-anchor": "end"}, label),
        narrow && !tight ? s("text", {x: width - 4, y: wordsAt(i), "text-anchor": "end", class: letters}, text) : s("text", {x: right + 8, y: middle(i) + 4}, text))),
      x.label ? axisWords((left + right) / 2, foot + 32, withUnit(x.label, x.unit), right - left) : "",
    );
    const deep = foot + (x.label ? 42 : 6);
    for (const [name, value] of [["width", width], ["height", deep], ["viewBox", `0 0 ${width} ${deep}`]]) this.svg.setAttribute(name, value);
    this.svg.setAttribute("aria-label", `${title}: ${bars.map(({label, text}) => `${label}, ${text}`).join("; ")}.`);
    this.caption.replaceChildren(h("strong", {}, title), tick ? h("span", {class: "key"},
      s("svg", {class: "swatch", width: 8, height: 16, "aria-hidden": "true"}, s("line", {x1: 4, x2: 4, y1: 1, y2: 15, stroke: look.ink, "stroke-width": 2.2})), tick) : "");
  }
}

function diamond(x, y, fill, stroke) {
  return s("path", {d: `M${x - 6} ${y}L${x} ${y - 6}L${x + 6} ${y}L${x} ${y + 6}z`, fill, stroke, "stroke-width": 2});
}
