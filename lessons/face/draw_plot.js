// Charts and strips: curves, marks and bands over one x axis, drawn by uPlot. Strips are charts that share x, zoom and moment.

import { HUES } from "./assembled.js";
import { fixed, h, s, measure, readAt, tickText, withUnit } from "./dom.js";

const DASHES = {solid: [], dashed: [8, 5], dotted: [2, 4]};
const KEPT_DASHES = {solid: [11, 3, 2, 3], dashed: [6, 3, 2, 3, 2, 3], dotted: [2, 8]};  // of a kept run: other ones than a curve of now may have
const APART = 0.04;  // of the axis; where a kept curve is farther than that from the present one, it is named
const GUTTER = 54;  // every y axis has this width, so that stacked strips line up
const EMPTY = 1 / 3; // an axis of which curves fill less than this is drawn anew
const BEYOND = 0.02; // of an axis with limits; curves that leave it by more than that let it grow

/** Is every number of one list that of the other? Curves of one chart mostly share their x. */
function same(a, b) {
  if (a === b) return true;
  if (a.length !== b.length) return false;
  for (let i = 0; i < a.length; i++) if (a[i] !== b[i]) return false;
  return true;
}

/** uPlot breaks a curve at null and knows nothing of NaN. */
function withBreaks(y) {
  for (let i = 0; i < y.length; i++) {
    if (Number.isNaN(y[i])) return Array.from(y, (value) => (Number.isNaN(value) ? null : value));
  }
  return y;
}

/** The chart's lines as uPlot wants them: one x for all, then a y for each. */
function columns(lines) {
  if (!lines.length) return [[0, 1]];
  const ys = lines.map((line) => withBreaks(line.y));
  if (lines.every((line) => same(line.x, lines[0].x))) return [lines[0].x, ...ys];
  return uPlot.join(lines.map((line, i) => [line.x, ys[i]]), lines.map(() => [2, 2]));
}

/** Where a chart's x begins and ends. */
function across({x, lines}) {
  return [x.low ?? Math.min(...lines.map((line) => line.x[0])), x.high ?? Math.max(...lines.map((line) => line.x[line.x.length - 1]))];
}

/** The least and the greatest y of a chart's lines, breaks left out; null where there is none. */
function extremes(chart) {
  let low = Infinity, high = -Infinity;
  for (const {y} of chart.lines) {
    for (let i = 0; i < y.length; i++) {
      if (y[i] < low) low = y[i];
      if (y[i] > high) high = y[i];
    }
  }
  return low <= high ? [low, high] : null;
}

const SHAPES = {
  spark: (c, r) => { for (const [x, y] of [[0.3, -1.3], [-0.7, 0.2], [-0.05, 0.2], [-0.3, 1.3], [0.7, -0.2], [0.05, -0.2]]) c.lineTo(x * r, y * r); },
  part: (c, r) => { c.moveTo(0, -r); c.lineTo(r, 0.8 * r); c.lineTo(-r, 0.8 * r); },
  close: (c, r) => { c.moveTo(0, r); c.lineTo(r, -0.8 * r); c.lineTo(-r, -0.8 * r); },
  here: (c, r) => { c.arc(0, 0, r, 0, 7); c.moveTo(-1.6 * r, 0); c.lineTo(1.6 * r, 0); c.moveTo(0, -1.6 * r); c.lineTo(0, 1.6 * r); },
  note: (c, r) => { c.moveTo(0, -r); c.lineTo(r, 0); c.lineTo(0, r); c.lineTo(-r, 0); c.closePath(); },
};
const HOLLOW = new Set(["part", "here"]);

/** Writes labels on a canvas where they do not cover one another. */
class Lettering {
  #taken = [];
  constructor(context, box, ratio, surface) {
    Object.assign(this, {context, box, ratio, surface});
    context.font = `${12 * ratio}px system-ui, sans-serif`;
    context.textBaseline = "middle";
    context.textAlign = "left";
  }

  /** Write `text` near (x, y) at the first of the places [dx, dy] (in letter heights) that is free; nowhere where none is. */
  write(text, x, y, hue, places) {
    if (!text) return;
    const {context, box, ratio} = this;
    const high = 15 * ratio, wide = context.measureText(text).width;
    const fits = ([dx, dy]) => {
      const left = Math.min(Math.max(x + dx * high - (dx < 0 ? wide : 0), box.left + 2), box.left + box.width - wide - 2);
      const top = Math.min(Math.max(y + dy * high - high / 2, box.top), box.top + box.height - high);
      return {left, top, right: left + wide, bottom: top + high};
    };
    const rooms = places.map(fits);
    const free = (r) => this.#taken.every((t) => r.right < t.left || r.left > t.right || r.bottom <= t.top || r.top >= t.bottom);
    const room = rooms.find(free);
    if (!room) return;
    this.#taken.push(room);
    context.lineWidth = 4 * ratio;
    context.strokeStyle = this.surface;
    context.lineJoin = "round";
    context.strokeText(text, room.left, room.top + high / 2);
    context.fillStyle = hue;
    context.fillText(text, room.left, room.top + high / 2);
  }
}

/** One chart. `stack` ({zoom, onzoom, onmoment, wanted}) is what stacked strips share; a chart on its own has its own. */
export class Plot {
  #u = null;
  #built = "";

  constructor(stack) {
    this.stack = stack;
    this.caption = h("figcaption");
    this.place = h("div", {class: "plot", role: "img"});
    this.words = h("div", {class: "axis-words", "aria-hidden": "true"});  // of the x axis; the place's own name says them too
    this.node = h("figure", {}, this.caption, this.place, this.words);
    this.line = h("div", {class: "moment", hidden: true});
    this.chosen = h("div", {class: "chosen", hidden: true});
  }

  /**
   * Draw `chart`, its field `height` px high; `last` strips show the x axis. uPlot is kept as long as the curves keep their names
   * and looks. With a `scale` the lettering is that much larger, and the plot is as high as the place that the page has for it.
   * `ghost` is the chart as it was before the last change: its curves stay, paled, on the same axes; the first of a stack says so.
   * `kept` is that of a run which the reader keeps to compare: it takes the ghost's place, in dashes of its own and named.
   */
  show(chart, theme, width, {last, scale, height, ghost, kept, first}) {
    Object.assign(this, {chart, last, scale, height: Math.round(height), comparing: Boolean(kept)});
    const former = kept ?? ghost;
    this.ghost = former && former.y.unit === chart.y.unit && former.x.label === chart.x.label ? former : null;
    this.former = this.ghost && extremes(this.ghost);
    const axes = JSON.stringify([chart.y, chart.x.label]);
    if (axes !== this.axes) this.kept = null;
    this.axes = axes;
    const shape = JSON.stringify([theme, last, scale, chart.title, chart.x, chart.y, chart.lines.map((l) => [l.label, l.quantity, l.dash])]);
    this.data = columns(chart.lines);
    if (shape !== this.#built) {
      this.#built = shape;
      this.#build(theme, width, last);
    } else {
      this.resize(width);
      this.#u.setData(this.data);
    }
    this.before.hidden = !first;
    this.before.classList.toggle("none", !this.ghost && !kept);
    const said = !kept ? "pale: before" : this.ghost ? "pale, dash and dot: kept run" : "kept run: not on these axes";
    this.grown.textContent = this.#grown();
    if (this.before.textContent !== said) this.before.replaceChildren(swatch(HUES[theme].soft, kept ? KEPT_DASHES.solid : []), said);
  }

  resize(width) {
    const height = this.#high();
    if (this.#u && width > 0 && (width !== this.#u.width || height !== this.#u.height)) this.#u.setSize({width, height});
  }

  #high() {
    return this.scale ? Math.max(60, this.place.clientHeight) : this.height + (this.last ? 26 : 8);
  }

  rescale() {
    this.#u?.setData(this.data);
  }

  destroy() {
    this.#u?.destroy();
    this.node.remove();
  }

  /** The whole span of x: the axis's own limits where given, else the data's; with those of a run that is kept to compare. */
  span() {
    const [low, high] = across(this.chart);
    if (!this.comparing || !this.ghost) return [low, high];
    const [first, last] = across(this.ghost);
    return [Math.min(low, first), Math.max(high, last)];
  }

  /** Put the moment's line at x and say each curve's value there. */
  at(x) {
    this.moment = x;
    if (!this.#u) return;
    const {min, max} = this.#u.scales.x, y = this.#u.scales.y;
    const places = Math.min(4, Math.max(0, 2 - Math.floor(Math.log10(y.max - y.min || 1))));
    const seen = x != null && x >= min && x <= max;
    this.line.hidden = !seen;
    if (seen) this.line.style.transform = `translateX(${((x - min) / (max - min)) * (this.#u.bbox.width / devicePixelRatio)}px)`;
    this.chart.lines.forEach((line, i) => {
      const value = x == null ? "" : measure(fixed(readAt(line.x, line.y, x), places), this.chart.y.unit);
      if (this.values[i].textContent !== value) this.values[i].textContent = value;
    });
  }

  #build(theme, width, last) {
    const {chart} = this;
    const look = HUES[theme];
    const hue = (name) => (HUES.quantities[name] ?? HUES.quantities.plain)[theme];
    this.hue = hue;
    this.look = look;
    this.#u?.destroy();
    this.values = chart.lines.map(() => h("span", {class: "value"}));
    const said = chart.title.toLowerCase().includes(chart.y.label.toLowerCase());
    const alone = chart.lines.length === 1;  // then the title says what the curve is
    this.caption.replaceChildren(
      h("strong", {}, chart.title), h("span", {class: "soft"}, withUnit(said ? "" : chart.y.label, chart.y.unit)),
      ...chart.lines.map((line, i) => h("span", {class: "key"}, swatch(hue(line.quantity), DASHES[line.dash] ?? []), alone ? null : line.label, this.values[i])),
      (this.grown = h("span", {class: "key grown"})),
      (this.before = h("span", {class: "key before none"})),
    );
    this.place.setAttribute("aria-label", `${chart.title}: ${withUnit(chart.y.label, chart.y.unit)} against ${withUnit(chart.x.label, chart.x.unit)}`);
    const scale = this.scale ?? 1;
    this.words.textContent = last ? withUnit(chart.x.label, chart.x.unit) : "";
    this.words.style.fontSize = `${12 * scale}px`;
    this.words.style.paddingLeft = `${GUTTER * scale}px`;
    const tickTexts = (_, splits) => splits.map((value) => value == null ? null : tickText(value));
    const axis = {values: tickTexts, stroke: look.ink, grid: {stroke: look.rule, width: 1}, ticks: {stroke: look.rule, size: 5}, font: `${12 * scale}px system-ui, sans-serif`, gap: 3};
    const options = {
      width: Math.max(width, 120), height: this.#high(), legend: {show: false}, cursor: {show: false}, padding: [6 * scale, 18 * scale, last ? 0 : 6, 0],
      scales: {x: {time: false, range: () => this.stack.zoom ?? this.span()}, y: {range: (_, low, high) => this.#yRange(low, high)}},
      axes: [
        last ? {...axis, size: 24 * scale, space: 50 * scale}
             : {...axis, size: 2, values: (_, splits) => splits.map(() => "")},
        {...axis, size: GUTTER * scale, space: 26 * scale},
      ],
      series: [{}, ...chart.lines.map((line) => ({
        label: line.label, stroke: hue(line.quantity), width: 2, dash: DASHES[line.dash] ?? [], points: {show: false}, spanGaps: false,
      }))],
      hooks: {drawClear: [() => this.#drawBands(), () => this.#drawGhost()], draw: [() => this.#drawMarks(), () => this.at(this.moment ?? null)]},
    };
    this.#u = new uPlot(options, this.data, this.place);
    this.#u.over.append(this.chosen, this.line);
    this.#listen(this.#u.over);
  }

  /**
   * The limits that the panel states, or farther out where a curve or its ghost really leaves them; null where it states none. Limits
   * that follow the setting are not stretched for a ghost, which belongs to others; for a run that was kept to compare they are.
   */
  #stated() {
    const {low, high, cut, follows} = this.chart.y;
    if (low == null || high == null) return null;
    const [least, most] = [extremes(this.chart), follows && !this.comparing ? null : this.former].reduce(([a, b], each) => (each ? [Math.min(a, each[0]), Math.max(b, each[1])] : [a, b]), [low, high]);
    const slack = BEYOND * (high - low), [from, to] = uPlot.rangeNum(least, most, 0.04, true);
    return [!cut && least < low - slack ? from : low, !cut && most > high + slack ? to : high];
  }

  /** That the axis has grown beyond what the panel states, in words; else nothing. */
  #grown() {
    const range = this.#stated(), {low, high, unit} = this.chart.y;
    if (!range || (range[0] === low && range[1] === high)) return "";
    const said = (from, to) => (from === 0 ? "" : from === -to ? "\u00b1" : `${tickText(from)} to `) + measure(tickText(to), unit);
    return `axis here to ${said(...range)}, elsewhere to ${said(low, high)}`;
  }

  /**
   * What the panel has not stated keeps still all the same: the axis grows where a curve, or its ghost, would leave it, and is drawn
   * anew only where they have become small in it. So a curve twice as tall is drawn twice as tall.
   */
  #yRange(low, high) {
    const stated = this.#stated();
    if (stated) return stated;
    const {low: fixedLow, high: fixedHigh} = this.chart.y;
    const [least, most] = this.former ?? [Infinity, -Infinity];
    const own = low == null ? this.former ?? [0, 1] : [Math.min(low, least), Math.max(high, most)];
    let [from, to] = uPlot.rangeNum(...own, 0.08, true);
    if (this.kept && !this.stack.zoom && to - from > EMPTY * (this.kept[1] - this.kept[0])) {
      [from, to] = [Math.min(from, this.kept[0]), Math.max(to, this.kept[1])];
    }
    if (!this.stack.zoom && low != null) this.kept = [from, to];
    return [fixedLow ?? from, fixedHigh ?? to];
  }

  /** The curves as they were, or those of the kept run, under those of now. */
  #drawGhost() {
    if (!this.ghost) return;
    const u = this.#u, {ctx, bbox} = u, ratio = devicePixelRatio * (this.scale ?? 1), dashes = this.comparing ? KEPT_DASHES : DASHES;
    ctx.save();
    ctx.beginPath();
    ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
    ctx.clip();
    ctx.lineWidth = 1.6 * ratio;
    ctx.globalAlpha = this.comparing ? 0.62 : 0.38;
    for (const {quantity, dash, x, y} of this.ghost.lines) {
      ctx.strokeStyle = this.hue(quantity);
      ctx.setLineDash((dashes[dash] ?? []).map((part) => part * ratio));
      ctx.beginPath();
      let down = false;
      for (let i = 0; i < x.length; i++) {
        const broken = y[i] == null || Number.isNaN(y[i]);
        if (!broken) ctx[down ? "lineTo" : "moveTo"](u.valToPos(x[i], "x", true), u.valToPos(y[i], "y", true));
        down = !broken;
      }
      ctx.stroke();
    }
    if (this.comparing) this.#drawKeptMarks(ratio);
    ctx.restore();
  }

  /** Where the kept run parted and fired: a dotted line, and the hollow shape at its foot; the present one has its own at the top. */
  #drawKeptMarks(ratio) {
    const u = this.#u, {ctx, bbox} = u;
    ctx.lineWidth = 1.3 * ratio;
    for (const mark of this.ghost.marks) {
      const x = u.valToPos(mark.x, "x", true), y = mark.y == null ? bbox.top + bbox.height - 7 * ratio : u.valToPos(mark.y, "y", true);
      ctx.strokeStyle = this.hue(mark.quantity);
      this.#outline(mark, x, y, [2, 4], ratio);
      ctx.stroke();
    }
  }

  /** Draw a mark's upright line in `dash`, where it has one, and leave the path of its shape at (x, y), to be filled or stroked. */
  #outline(mark, x, y, dash, ratio) {
    const {ctx, bbox} = this.#u;
    if (mark.y == null) {
      ctx.setLineDash(dash.map((part) => part * ratio));
      ctx.beginPath(); ctx.moveTo(x, bbox.top); ctx.lineTo(x, bbox.top + bbox.height); ctx.stroke();
    }
    ctx.setLineDash([]);
    ctx.translate(x, y);
    ctx.beginPath();
    (SHAPES[mark.shape] ?? SHAPES.note)(ctx, (mark.shape === "spark" ? 7 : 5) * ratio);
    if (mark.shape !== "here") ctx.closePath();
    ctx.translate(-x, -y);
  }

  /** Where the word "kept" belongs: at the place in sight where a curve of the kept run is farthest from the present one; null where nowhere. */
  #farthest() {
    const {min, max} = this.#u.scales.x, high = this.#u.scales.y.max - this.#u.scales.y.min;
    let most = APART * high, found = null;
    for (const {label, quantity, x, y} of this.ghost.lines) {
      const now = this.chart.lines.find((line) => line.label === label);
      for (let i = 0; now && i < x.length; i++) {
        if (x[i] < min || x[i] > Math.min(max, now.x[now.x.length - 1])) continue;
        const far = Math.abs(y[i] - readAt(now.x, now.y, x[i]));
        if (far > most) [most, found] = [far, {x: x[i], y: y[i], quantity}];
      }
    }
    return found;
  }

  /** Bands come first, under the curves; their names are written with the marks' labels, over them. */
  #drawBands() {
    const {ctx, bbox} = this.#u;
    ctx.save();
    ctx.beginPath();
    ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
    ctx.clip();
    for (const band of this.chart.bands) {
      const [left, top, wide, high] = this.#bandBox(band);
      ctx.fillStyle = this.look.band;
      ctx.fillRect(left, top, wide, high);
      ctx.strokeStyle = this.look.edge;
      ctx.lineWidth = devicePixelRatio;
      ctx.setLineDash([4 * devicePixelRatio, 4 * devicePixelRatio]);
      if (band.across === "y") ctx.strokeRect(bbox.left - 9, top, bbox.width + 18, high);
      else ctx.strokeRect(left, bbox.top - 9, wide, bbox.height + 18);
    }
    ctx.restore();
  }

  #bandBox(band) {
    const {bbox} = this.#u;
    const along = band.across === "y" ? "y" : "x";
    const [a, b] = [band.low, band.high].map((value) => this.#u.valToPos(value, along, true));
    const clip = (value, low, size) => Math.min(Math.max(value, low), low + size);
    if (along === "y") {
      const top = clip(b, bbox.top, bbox.height);
      return [bbox.left, top, bbox.width, clip(a, bbox.top, bbox.height) - top];
    }
    const left = clip(a, bbox.left, bbox.width);
    return [left, bbox.top, clip(b, bbox.left, bbox.width) - left, bbox.height];
  }

  #drawMarks() {
    const u = this.#u, {ctx, bbox} = u, ratio = devicePixelRatio * (this.scale ?? 1);
    ctx.save();
    ctx.setLineDash([]);
    const letters = new Lettering(ctx, bbox, ratio, this.look.surface);
    const inside = (x) => x >= bbox.left - 1 && x <= bbox.left + bbox.width + 1;
    for (const mark of this.chart.marks) {
      const x = u.valToPos(mark.x, "x", true), hue = this.hue(mark.quantity);
      if (!inside(x)) continue;
      ctx.strokeStyle = ctx.fillStyle = hue;
      ctx.lineWidth = 1.8 * ratio;
      const y = mark.y == null ? bbox.top + 7 * ratio : u.valToPos(mark.y, "y", true);
      this.#outline(mark, x, y, [5, 3], ratio);
      if (HOLLOW.has(mark.shape)) { if (mark.shape === "part") { ctx.fillStyle = this.look.surface; ctx.fill(); } ctx.stroke(); } else ctx.fill();
      letters.write(mark.label, x, y, hue, [[0.6, mark.y == null ? 0 : -0.8], [-0.6, mark.y == null ? 0 : -0.8], [0.6, 0.9], [-0.6, 0.9], [0.6, 1.9], [-0.6, 1.9], [0.6, 2.9], [0.6, 3.9]]);
    }
    if (this.ghost && this.comparing) {
      const far = this.#farthest();
      if (far) letters.write("kept", u.valToPos(far.x, "x", true), u.valToPos(far.y, "y", true), this.hue(far.quantity), [[0.5, -0.7], [-0.5, -0.7], [0.5, 0.8], [-0.5, 0.8], [0.5, 1.8], [-0.5, 1.8]]);
      for (const mark of this.ghost.marks) {
        const x = u.valToPos(mark.x, "x", true), y = mark.y == null ? bbox.top + bbox.height - 8 * ratio : u.valToPos(mark.y, "y", true);
        if (inside(x)) letters.write(`kept: ${mark.label}`, x, y, this.hue(mark.quantity), [[0.6, 0], [-0.6, 0], [0.6, -1], [-0.6, -1]]);
      }
    }
    for (const band of this.chart.bands) {
      const [left, top, wide, high] = this.#bandBox(band);
      if (wide <= 0 || high <= 0) continue;
      const foot = band.across === "y" ? top + 9 * ratio : bbox.top + bbox.height - 9 * ratio;
      letters.write(band.label, left, foot, this.look.soft, [[0.2, 0], [0.2, -1], [0.2, -2], [0.2, -3], [0.2, 1.1], [0.2, 2.2]]);
    }
    ctx.restore();
  }

  /** Pointer over the plot: hover (or a finger's drag) sets the moment, a mouse's drag chooses a span to look at closer. */
  #listen(over) {
    const {stack, chosen} = this;
    const place = (event) => {
      const box = over.getBoundingClientRect();
      return Math.min(Math.max(event.clientX - box.left, 0), box.width);
    };
    const value = (left) => this.#u.posToVal(left, "x");
    let from = null;
    over.addEventListener("pointerdown", (event) => {
      if (event.pointerType === "mouse" && event.button === 0) {
        from = place(event);
        over.setPointerCapture(event.pointerId);
      }
      stack.onmoment(value(place(event)), this, true);
    });
    over.addEventListener("pointermove", (event) => {
      const now = place(event);
      if (from === null) return stack.onmoment(value(now), this, false);
      chosen.hidden = Math.abs(now - from) < 6;
      chosen.style.left = `${Math.min(from, now)}px`;
      chosen.style.width = `${Math.abs(now - from)}px`;
    });
    over.addEventListener("pointerup", (event) => {
      if (from !== null && !chosen.hidden) stack.onzoom([value(from), value(place(event))].sort((a, b) => a - b));
      chosen.hidden = true;
      from = null;
    });
    over.addEventListener("pointerleave", () => from === null && stack.onmoment(null, this, false));
    over.addEventListener("dblclick", () => stack.onzoom(null));
  }
}

/** A short piece of the curve for the key: hue and dash. */
function swatch(hue, dash) {
  return s("svg", {class: "swatch", width: 26, height: 10, "aria-hidden": "true"},
    s("line", {x1: 1, y1: 5, x2: 25, y2: 5, stroke: hue, "stroke-width": 3, "stroke-dasharray": dash.join(" ") || null}));
}
