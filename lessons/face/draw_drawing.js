// A schematic drawing of named parts: point at a part or at its word and it lights up; press it and it says what it is.
// Keys: the drawing is one stop, arrows go from part to part, Enter names the part. The list beside it does the same.

import { HUES } from "./assembled.js";
import { h, s } from "./dom.js";

const BESIDE = 560;       // px from which the list stands beside the drawing, not under it
const WIDEST = 560;       // px; a larger drawing shows no more
const BADGE = 10;         // px, radius of a part's number
const HINT = "Press a part, or its word, and it says what it is.";
const TOUCH = 15;         // px, radius of what may be touched round it

const drawings = new Set();  // those on the page, for the words in its text; one that was taken away drops out when next met

/** A word in strong or emphasised type anywhere in the page's text lights the parts of that name. */
for (const [type, on] of [["pointerover", true], ["pointerout", false], ["focusin", true], ["focusout", false]]) {
  document.addEventListener(type, ({target}) => {
    const word = target.closest?.("strong, em, dfn, a");
    if (!word || word.textContent.length > 60) return;
    for (const drawing of drawings) {
      if (drawing.node.isConnected) drawing.hint(on ? word.textContent : "");
      else drawings.delete(drawing);
    }
  });
}

export class DrawingDrawing {
  #chosen = null;   // key of the part that was pressed
  #pointed = null;  // key of the part that is pointed at or has the focus
  #hinted = [];     // keys of the parts whose words are pointed at in the page's text
  #built = "";

  constructor() {
    this.caption = h("figcaption");
    this.title = s("title", {id: "drawing-title"});
    this.desc = s("desc", {id: "drawing-desc"}, "Arrow keys go from part to part; Enter says what a part is.");
    this.ground = s("g", {"aria-hidden": "true"});
    this.svg = s("svg", {role: "group", "aria-labelledby": "drawing-title", "aria-describedby": "drawing-desc", onkeydown: (event) => this.#key(event)});
    this.named = h("p", {class: "named", role: "status"}, HINT);
    this.list = h("ol", {class: "parts"});
    this.scale = h("p", {class: "soft small"});
    this.node = h("figure", {class: "drawing"}, this.caption, h("div", {class: "drawn"}, this.svg, this.named, this.list), this.scale);
    drawings.add(this);
  }

  /** With a `height` (on the stage, under the eye of whoever moves a slider) the drawing is no higher than a half more than that. */
  show(drawing, theme, {width, height}) {
    drawing = this.drawing = {...drawing, parts: drawing.parts.map((part) => ({...part, key: part.word}))};  // a word stands but once
    this.theme = theme;
    const beside = width >= BESIDE, highest = height ? (1.5 * height * drawing.width) / drawing.height : WIDEST;
    const across = Math.floor(Math.min(WIDEST, highest, beside ? 0.62 * width : width));
    this.k = across / drawing.width;
    this.node.classList.toggle("beside", beside);
    const built = JSON.stringify([drawing.title, theme, across, drawing.parts.map(({word}) => word)]);
    if (built !== this.#built) this.#build(across);
    this.#built = built;
    for (const part of drawing.parts) this.#drawPart(part);
    const look = HUES[theme], size = 12 / this.k;
    this.notes.replaceChildren(...drawing.notes.map(({x, y, text, anchor}) =>
      s("text", {x, y, "text-anchor": anchor, style: `font-size:${size}px;stroke-width:${3 / this.k}px`, fill: look.ink}, text)));
    this.caption.replaceChildren(h("strong", {}, drawing.title));
    this.scale.textContent = drawing.scale;
    this.#relight();
  }

  #build(across) {
    const {drawing} = this;
    const had = this.svg.contains(this.svg.getRootNode().activeElement) ? this.svg.getRootNode().activeElement.dataset.part : null;
    for (const [name, value] of [["width", across], ["height", Math.round(across * drawing.height / drawing.width)], ["viewBox", `0 0 ${drawing.width} ${drawing.height}`]]) this.svg.setAttribute(name, value);
    this.title.textContent = drawing.title;
    this.notes = s("g", {class: "notes"});
    this.groups = new Map();
    this.buttons = new Map();
    drawing.parts.forEach(({key, word, sentence}, i) => {
      const point = (on) => () => this.#point(on ? key : null);
      const watch = {onpointerenter: point(true), onpointerleave: point(false), onfocus: point(true), onblur: point(false)};
      this.groups.set(key, s("g", {class: "part", role: "button", "data-part": key, tabindex: i ? -1 : 0, "aria-label": `${i + 1}, ${word}`, "aria-pressed": "false", ...watch,
        onclick: () => this.#choose(key)}));
      this.buttons.set(key, h("button", {type: "button", "aria-pressed": "false", ...watch, onclick: () => this.#choose(key)}, word));
    });
    this.lettering = s("g", {class: "lettering", "aria-hidden": "true"});
    this.svg.replaceChildren(this.title, this.desc, ...this.groups.values(), this.notes, this.lettering);
    this.list.replaceChildren(...drawing.parts.map(({key, sentence}) => h("li", {}, this.buttons.get(key), h("span", {class: "gloss"}, ` ${sentence}`))));
    if (had && this.groups.has(had)) this.#focus(had);
  }

  #drawPart({key, word, outlines, number_at: [x, y], leads_to: to}) {
    const {k, theme} = this, look = HUES[theme];
    const number = this.drawing.parts.findIndex((part) => part.key === key) + 1;
    const group = this.groups.get(key);
    group.replaceChildren(
      s("title", {}, word),
      ...[...outlines].map(({points, fill, closed, pale, dashed}) => {
        const hue = fill === "steel" ? look.band : fill === "clear" ? look.surface : HUES.quantities[fill][theme];
        const line = closed || fill === "steel" || fill === "clear" ? look.ink : hue;
        return s("path", {d: path(points, closed), fill: closed ? hue : "none", "fill-opacity": pale ? 0.25 : 1, stroke: line, "stroke-dasharray": dashed ? "5 4" : null});
      }),
      to ? s("path", {class: "leader", d: `M${x} ${y}L${to[0]} ${to[1]}`, stroke: look.ink}) : "",
      to ? s("circle", {class: "end", cx: to[0], cy: to[1], r: 2 / k, fill: look.ink}) : "",
      s("circle", {class: "touch", cx: x, cy: y, r: TOUCH / k}),
      s("circle", {class: "badge", cx: x, cy: y, r: BADGE / k, fill: look.surface, stroke: look.ink}),
      s("text", {class: "number", x, y: y + 4 / k, "text-anchor": "middle", style: `font-size:${12 / k}px`}, String(number)),
    );
  }

  // ------------------------------------------------------------------------------------------------ naming
  /** Light the parts whose names stand in `text`; none where it is empty. */
  hint(text) {
    const words = text.toLowerCase();
    const keys = text ? this.drawing?.parts.filter(({word}) => new RegExp(`(^|[^a-z-])${word}s?([^a-z-]|$)`).test(words)).map(({key}) => key) ?? [] : [];
    if (String(keys) === String(this.#hinted)) return;
    this.#hinted = keys;
    this.#relight();
  }

  #point(key) {
    this.#pointed = key;
    this.#relight();
  }

  #choose(key) {
    this.#chosen = this.#chosen === key ? null : key;
    const part = this.drawing.parts.find((each) => each.key === this.#chosen);
    this.named.replaceChildren(...(part ? [h("strong", {}, capital(part.word)), `: ${part.sentence}`] : [HINT]));
    for (const [each, group] of this.groups) for (const node of [group, this.buttons.get(each)]) node.setAttribute("aria-pressed", String(each === this.#chosen));
    this.#relight();
  }

  /** What is pointed at goes before what the text names, and that before what was pressed. */
  #relight() {
    if (!this.groups) return;
    const keys = this.#pointed ? [this.#pointed] : this.#hinted.length ? this.#hinted : this.#chosen ? [this.#chosen] : [];
    this.svg.classList.toggle("naming", keys.length > 0);
    for (const [key, group] of this.groups) {
      group.classList.toggle("lit", keys.includes(key));
      this.buttons.get(key).classList.toggle("lit", keys.includes(key));
    }
    const {k, drawing} = this;
    this.lettering.replaceChildren(...drawing.parts.filter(({key}) => keys.includes(key)).map(({word, number_at: [x, y]}) => {
      const left = x < drawing.width / 2, up = y > drawing.height - 30 / k;
      return s("text", {x: x + (left ? 1 : -1) * (BADGE + 5) / k, y: y + (up ? -6 : 4) / k, "text-anchor": left ? "start" : "end", style: `font-size:${14 / k}px;stroke-width:${4 / k}px`}, word);
    }));
  }

  #focus(key) {
    for (const [each, group] of this.groups) group.setAttribute("tabindex", each === key ? 0 : -1);
    this.groups.get(key).focus();
  }

  #key(event) {
    const keys = [...this.groups.keys()], here = keys.indexOf(event.target.dataset.part);
    if (here < 0) return;
    const to = {ArrowRight: here + 1, ArrowDown: here + 1, ArrowLeft: here - 1, ArrowUp: here - 1, Home: 0, End: keys.length - 1}[event.key];
    if (event.key === "Enter" || event.key === " ") this.#choose(keys[here]);
    else if (event.key === "Escape" && this.#chosen) this.#choose(this.#chosen);
    else if (to !== undefined) this.#focus(keys[(to + keys.length) % keys.length]);
    else return;
    event.preventDefault();
    event.stopPropagation();
  }
}

function path(points, closed) {
  let d = "";
  for (let i = 0; i < points.length; i += 2) d += `${i ? "L" : "M"}${points[i].toFixed(2)} ${points[i + 1].toFixed(2)}`;
  return closed ? `${d}z` : d;
}

const capital = (word) => word[0].toUpperCase() + word.slice(1);
