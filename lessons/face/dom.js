// Small tools: making elements, writing numbers with their units, rendering text from outside without innerHTML.

const SVG = "http://www.w3.org/2000/svg";

function build(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") node.addEventListener(name.slice(2), value);
    else if (value === true) node.setAttribute(name, "");
    else if (value !== false && value != null) node.setAttribute(name, value);
  }
  node.append(...children.filter((child) => child != null));
  return node;
}

/** An HTML element: h("button", {class: "x", onclick: act}, "text", child). Strings become text nodes, never markup. */
export function h(tag, attributes = {}, ...children) {
  return build(document.createElement(tag), attributes, children);
}

/** The same for SVG. */
export function s(tag, attributes = {}, ...children) {
  return build(document.createElementNS(SVG, tag), attributes, children);
}

/** "label (unit)", or the label alone where the unit is "1" or empty. */
export function withUnit(label, unit) {
  return unit && unit !== "1" ? `${label} (${unit})`.trim() : label;
}

/** How many decimals a slider with this step needs: 0.05 -> 2. */
export function decimals(step) {
  const [digits, power = "0"] = String(step).split("e");
  return Math.min(12, Math.max(0, (digits.split(".")[1] ?? "").length - Number(power)));
}

/** A number's text and its unit, with a space that does not break; no unit where there is none. */
export function measure(text, unit) {
  return unit && unit !== "1" ? `${text}\u00a0${unit}` : text;
}

/** A number's digits with a true minus, and none before a nought. */
function signed(digits) {
  return digits.replace(/^-(?=[0.]*$)/, "").replace("-", "\u2212");
}

/** A value as a slider shows it, with its unit. */
export function quantity(value, unit, step) {
  return measure(signed(Number(value).toFixed(decimals(step))), unit);
}

/** A number read off a curve, to so many decimals; a dash where the curve has a break. */
export function fixed(value, places) {
  return value == null || Number.isNaN(value) ? "\u2013" : signed(value.toFixed(places));
}

/** A number beside a tick of an axis. */
export function tickText(value) {
  return signed(String(Number(value.toPrecision(10))));
}

/** An axis's words, centred on x; on two lines where one is too long for `width`. */
export function axisWords(x, y, words, width) {
  const middle = words.lastIndexOf(" ", Math.ceil(words.length * 0.6));
  const lines = words.length * 6.4 > width && middle > 0 ? [words.slice(0, middle), words.slice(middle + 1)] : [words];
  return s("text", {"text-anchor": "middle"}, ...lines.map((line, i) => s("tspan", {x, y: y + 14 * i}, line)));
}

const INLINE = /`([^`]+)`|\*\*([^*]+)\*\*|\*([^*\s][^*]*)\*/g;

function inline(text) {
  const parts = [];
  let from = 0;
  for (const found of text.matchAll(INLINE)) {
    parts.push(text.slice(from, found.index));
    const [whole, code, strong, em] = found;
    parts.push(code ? h("code", {}, code) : strong ? h("strong", {}, strong) : h("em", {}, em));
    from = found.index + whole.length;
  }
  return [...parts, text.slice(from)];
}

/** Paragraphs, line breaks, "- " lists, ```fences```, `code`, **strong** and *em*, as nodes made of text only. */
export function rich(text) {
  const made = document.createDocumentFragment();
  String(text ?? "").split(/```\w*\n?/).forEach((part, index) => {
    if (index % 2) return made.append(h("pre", {}, h("code", {}, part.replace(/\n$/, ""))));
    for (const block of part.split(/\n\s*\n/).map((b) => b.trim()).filter(Boolean)) {
      let open = null;  // the paragraph or list that the next line joins
      for (const line of block.split("\n")) {
        const item = line.match(/^\s*[-*] (.*)/);
        const tag = item ? "UL" : "P";
        if (open?.tagName !== tag) made.append((open = h(tag)));
        else if (!item) open.append(h("br"));
        open.append(...(item ? [h("li", {}, ...inline(item[1]))] : inline(line)));
      }
    }
  });
  return made;
}

/** Put back the buffers that `contracts.pack` took out: {"$": i} becomes arrays[i]. */
export function unpack(tree, arrays = []) {
  if (Array.isArray(tree)) return tree.map((node) => unpack(node, arrays));
  if (tree === null || typeof tree !== "object") return tree;
  if ("$" in tree) return arrays[tree.$];
  return Object.fromEntries(Object.entries(tree).map(([key, node]) => [key, unpack(node, arrays)]));
}

/** The index of the last entry of an ascending list that is not after `value` (0 where all are). */
export function indexAt(list, value) {
  let low = 0, high = list.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (list[middle] <= value) low = middle;
    else high = middle - 1;
  }
  return low;
}

/** The value of a sampled curve at x, on the straight line between its neighbours; NaN or null where it has a break. */
export function readAt(xs, ys, x) {
  const i = indexAt(xs, x), j = Math.min(i + 1, xs.length - 1);
  const share = j > i ? Math.min(1, Math.max(0, (x - xs[i]) / (xs[j] - xs[i]))) : 0;
  return share === 0 || ys[i] == null ? ys[i] : ys[i] + share * (ys[j] - ys[i]);
}

/** About `count` round numbers between low and high. */
export function ticks(low, high, count) {
  const rough = (high - low) / Math.max(1, count);
  if (!(rough > 0)) return [low];
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((m) => m * power).find((m) => m >= rough);
  const first = Math.ceil(low / step - 1e-9);
  return Array.from({length: Math.floor(high / step + 1e-9) - first + 1}, (_, i) => Number(((first + i) * step).toPrecision(10)));
}

/** Resolve once the next frame is on the screen: a message posted in a frame is delivered after that frame's paint. */
export function painted() {
  return new Promise((resolve) => {
    requestAnimationFrame(() => {
      const channel = new MessageChannel();
      channel.port1.onmessage = () => resolve(performance.now());
      channel.port2.postMessage(0);
    });
  });
}
