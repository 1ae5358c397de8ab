// The face's one door: defines the custom elements; `connect` is for the book, `render` (the default) for anywidget.

import { connect } from "./base.js";
import { CoilExercise } from "./exercise.js";
import { CoilPanel } from "./panel.js";
import { CoilProgress } from "./progress.js";
import { CoilSheet } from "./sheet.js";

export { connect };

// A notebook may load this module once for each cell; the first to come defines the elements.
for (const [tag, element] of [["coil-panel", CoilPanel], ["coil-exercise", CoilExercise], ["coil-progress", CoilProgress], ["coil-sheet", CoilSheet]]) {
  if (!customElements.get(tag)) customElements.define(tag, element);
}

/** Ask the notebook's kernel, by the widget's own messages; numbers come back as binary buffers. */
function askThrough(model) {
  const waiting = new Map();
  const mine = `${Date.now().toString(36)}-${Math.random().toString(36).slice(2)}`;  // a model may have several views
  let count = 0;
  const hear = (message, buffers = []) => {
    const resolve = waiting.get(message.id);
    if (!resolve) return;
    waiting.delete(message.id);
    // a buffer may start anywhere in its message; a Float64Array may not
    resolve({tree: message.tree, arrays: buffers.map((b) => new Float64Array(b.buffer.slice(b.byteOffset, b.byteOffset + b.byteLength)))});
  };
  model.on("msg:custom", hear);
  const ask = (request) => new Promise((resolve) => {
    const id = `${mine}-${(count += 1)}`;
    waiting.set(id, resolve);
    model.send({id, request});
  });
  return {ask, end: () => model.off("msg:custom", hear)};
}

function render({model, el}) {
  const {ask, end} = askThrough(model);
  const element = document.createElement(model.get("tag"));
  for (const [name, value] of Object.entries(model.get("attributes"))) element.setAttribute(name, value);
  element.ask = ask;
  el.append(element);
  return end;
}

export default { render };
