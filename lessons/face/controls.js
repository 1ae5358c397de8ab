// A panel's controls: a slider or a set of named settings, each with its name, its value in words and why it matters.

import { h, quantity, withUnit } from "./dom.js";

const DECIDED = 6;  // px: a finger that has gone so far along a slider means to move it

/**
 * Call `take(event)` when the slider was moved. A finger that lands on it may have come to scroll: until it has gone along the
 * slider, or was lifted, nothing is taken; and where the browser scrolls with it, the slider stands again where it stood.
 */
function onSliding(input, take) {
  let finger = null;  // {value, x}: where the slider stood, and where the finger came down
  const settle = (event, taken) => {
    if (!finger) return;
    const {value} = finger;
    finger = null;
    if (!taken) input.value = value;
    else if (input.value !== value) take(event);
  };
  input.addEventListener("pointerdown", (event) => { if (event.pointerType === "touch") finger = {value: input.value, x: event.clientX}; });
  input.addEventListener("pointermove", (event) => { if (finger && Math.abs(event.clientX - finger.x) > DECIDED) settle(event, true); });
  input.addEventListener("pointerup", (event) => settle(event, true));
  input.addEventListener("pointercancel", (event) => settle(event, false));
  input.addEventListener("input", (event) => { if (!finger) take(event); });
}

/**
 * A slider; an optional one has a box for "taken" before it, and is taken in by moving it.
 * Returns {node, set(value)}; `change(value, event)` is told what the learner chose (null: not taken).
 */
export function sliderControl({symbol, label, unit, low, high, step, why, optional, default: rest}, change) {
  const id = `c-${symbol}`;
  const output = h("span", {class: "output"});  // no <output>: that is a live region, and would speak at every step
  const input = h("input", {type: "range", id, name: symbol, min: low, max: high, step, value: rest, "aria-describedby": `${id}-why`});
  const box = optional ? h("input", {type: "checkbox", id: `${id}-taken`, "aria-label": `${label}: taken`}) : null;
  const set = (value) => {
    const missing = value === null, text = missing ? "not taken" : quantity(value, unit, step);
    if (!missing) input.value = value;
    output.textContent = text;
    input.setAttribute("aria-valuetext", text);
    input.classList.toggle("missing", missing);
    if (box) box.checked = !missing;
  };
  const take = (value) => (event) => {
    set(value());
    change(value(), event);
  };
  onSliding(input, take(() => input.valueAsNumber));
  box?.addEventListener("change", take(() => (box.checked ? input.valueAsNumber : null)));
  const node = h("div", {class: optional ? "control optional" : "control"}, h("label", {for: id}, label, h("span", {class: "unseen"}, ` ${withUnit("", unit)}`)), output,
    box ? h("label", {class: "taken"}, box) : null, input, h("p", {class: "why", id: `${id}-why`}, why));
  return {node, set};
}

/** Named settings: a list to open where they are many or room is short, else radios. Returns {node, set(value)}, as a slider. */
export function choiceControl({symbol, label, options, why}, change, short) {
  const id = `c-${symbol}`;
  const take = (event) => change(event.target.value, event);
  const whyText = h("p", {class: "why", id: `${id}-why`}, why);
  if (options.length > 5 || short) {
    const select = h("select", {id, name: symbol, "aria-describedby": `${id}-why`, onchange: take}, ...options.map(([value, text]) => h("option", {value}, text)));
    return {node: h("div", {class: "control"}, h("label", {for: id}, label), select, whyText), set: (value) => (select.value = value)};
  }
  const radios = options.map(([value, text]) => {
    const input = h("input", {type: "radio", name: symbol, value, onchange: take});
    return [input, h("label", {class: "option"}, input, text)];
  });
  return {
    node: h("fieldset", {class: "control", "aria-describedby": `${id}-why`}, h("legend", {}, label), ...radios.map(([, node]) => node), whyText),
    set: (value) => radios.forEach(([input]) => (input.checked = input.value === value)),
  };
}
