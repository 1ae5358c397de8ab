// A notebook's line to its kernel. All elements of the notebook ask through the one desk that the kernel has, and the desk
// tells them when it no longer answers: a slider must not move beside a picture that will never follow.

const AGAIN = "choose Run, then Run All Cells, in the menu at the top, and it comes alive again";
const STOPPED = {
  restarting: `The kernel was restarted, so nothing here answers any more: ${AGAIN}.`,
  autorestarting: `The kernel stopped and was started anew, so nothing here answers any more: ${AGAIN}.`,
  dead: "The kernel has stopped, so nothing here answers any more: choose Kernel, then Restart Kernel and Run All Cells, and it comes alive again.",
  terminating: `The kernel was shut down, so nothing here answers any more: ${AGAIN}.`,
};
const BROKEN = "The line to the kernel is broken, and JupyterLab is trying to mend it; what you change shows when it is back.";

/** One kernel's desk. Fires "change" when `stopped` (a sentence, for good) or `waiting` (a sentence, for now) changes; both may be "". */
class Desk extends EventTarget {
  stopped = "";
  waiting = "";
  #model;
  #waiting = new Map();  // id of a question -> {resolve, reject}
  #mine = `${Date.now().toString(36)}-${Math.random().toString(36).slice(2)}`;  // other pages hear the same kernel's answers
  #count = 0;

  constructor(model) {
    super();
    this.#model = model;
    model.on("msg:custom", (message, buffers) => this.#hear(message, buffers));
    model.on("comm:close", () => this.#stop(STOPPED.terminating));
    const session = model.widget_manager?.context?.sessionContext;  // a host without one tells us nothing: then only answers count
    session?.statusChanged.connect((_, status) => STOPPED[status] && this.#stop(STOPPED[status]));
    session?.kernelChanged.connect((_, {oldValue, newValue}) => oldValue?.id !== newValue?.id && this.#stop(STOPPED.terminating));
    session?.connectionStatusChanged.connect((_, status) => this.#line(status));
  }

  /** Ask the kernel, by the widget's own messages; numbers come back as binary buffers. Rejects with a sentence where it has stopped. */
  ask(request) {
    if (this.stopped) return Promise.reject(new Error(this.stopped));
    return new Promise((resolve, reject) => {
      const id = `${this.#mine}-${(this.#count += 1)}`;
      this.#waiting.set(id, {resolve, reject});
      this.#model.send({id, request});
    });
  }

  #hear({id, tree}, buffers = []) {
    const question = this.#waiting.get(id);
    if (!question) return;
    this.#waiting.delete(id);
    // a buffer may start anywhere in its message; a Float64Array may not
    question.resolve({tree, arrays: buffers.map((b) => new Float64Array(b.buffer.slice(b.byteOffset, b.byteOffset + b.byteLength)))});
  }

  #stop(sentence) {
    if (this.stopped) return;
    this.stopped = sentence;
    for (const {reject} of this.#waiting.values()) reject(new Error(sentence));
    this.#waiting.clear();
    this.dispatchEvent(new Event("change"));
  }

  /** The line broke, or is back. Whether the kernel behind it is still the same one, only its answer tells. */
  #line(status) {
    if (status === "connected" && this.waiting) this.ask({do: "desk"}).then(() => this.#wait(""), () => {});
    else if (status !== "connected") this.#wait(BROKEN);
  }

  #wait(sentence) {
    this.waiting = sentence;
    this.dispatchEvent(new Event("change"));
  }
}

/** The desks of all notebooks on the page, by the names that their kernels gave them. */
export class Desks {
  #known = new Map();  // name -> {desk: Promise, open(desk)}

  /** Resolve to the desk of this name, when it opens: a saved notebook names one that never will. */
  at(name) {
    return this.#place(name).desk;
  }

  /** Open the desk that this widget's model belongs to, once its kernel has answered: a model may be kept in a file, without one. */
  async open(model) {
    const desk = new Desk(model);
    const {tree} = await desk.ask({do: "desk"});
    this.#place(tree.desk).open(desk);
  }

  #place(name) {
    if (!this.#known.has(name)) {
      const place = {};
      place.desk = new Promise((resolve) => (place.open = resolve));
      this.#known.set(name, place);
    }
    return this.#known.get(name);
  }
}

/**
 * Bring the reader back to the top of the lesson after Run All Cells, for which JupyterLab goes to the last cell at once.
 *
 * Called when a kernel's first cells have run. Only where that last cell is the active one and is in view, and still waits to be
 * run or was run last of all (a quick machine is done first), has nobody run a cell of his own choice or gone elsewhere meanwhile.
 */
export function backToTop() {
  for (const panel of document.querySelectorAll(".jp-NotebookPanel")) {
    const last = [...panel.querySelectorAll(".jp-Notebook .jp-Cell")].at(-1);
    const view = last?.closest(".jp-WindowedPanel-outer");
    if (!view?.offsetParent || !last.matches(".jp-mod-active") || !lastOfAll(panel, last)) continue;
    const {top, bottom} = last.getBoundingClientRect(), frame = view.getBoundingClientRect();
    if (bottom > frame.top && top < frame.bottom) view.scrollTop = 0;
  }
}

/** Whether the panel's last cell waits for its turn, or has just had it after all the others. */
function lastOfAll(panel, last) {
  const prompt = last.querySelector(".jp-InputPrompt")?.textContent ?? "";
  return prompt.includes("*") || Number(prompt.replace(/\D/g, "")) >= panel.querySelectorAll(".jp-Notebook .jp-CodeCell").length;
}
