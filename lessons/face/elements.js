// The face's one door: defines the custom elements; `connect` is for the book, `initialize` (the default) for anywidget.

import { connect } from "./base.js";
import { backToTop } from "./desk.js";
import { CoilExercise } from "./exercise.js";
import { CoilPanel } from "./panel.js";
import { CoilProgress } from "./progress.js";
import { CoilSheet } from "./sheet.js";

export { connect };

// Each notebook that is open loads this module once; the first to come defines the elements.
for (const [tag, element] of [["coil-panel", CoilPanel], ["coil-exercise", CoilExercise], ["coil-progress", CoilProgress], ["coil-sheet", CoilSheet]]) {
  if (!customElements.get(tag)) customElements.define(tag, element);
}

/** A kernel's widget has come, which has no view: the elements in the notebook's outputs ask through it (see desk.js). */
function initialize({model}) {
  backToTop();
  customElements.get("coil-panel").desks.open(model).catch(() => {});  // stopped before it ever answered: they stay asleep
}

export default { initialize };
