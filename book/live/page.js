// Loaded by start.js on a page that holds a panel, an exercise or a progress list: starts one worker for all of them,
// and connects the face. Until then each shows the picture and the words that came with the page. Panels need not wait for the
// worker: what they show at their start and at a press of a preset was made at build (early.js). Where all of a page say
// data-start="press" (the start page, which is to be light), the worker starts at the first touch.

import { PYTHON } from "./parts.js";
import { followAddress } from "./address.js";
import { Early } from "./early.js";
import { Host } from "./host.js";
import { Pool } from "./pool.js";
import { Keeper } from "./record.js";

const LIVE = "coil-panel, coil-exercise, coil-progress, coil-sheet";
const KEPT = "Nothing that you did is lost.";

// A line above a live thing: how far the start is, or what went wrong and the button to try again.
// Every panel has one to be seen; one of them only is spoken, or a reader would hear each step several times.
class Lines {
  constructor(elements, retry) {
    const panels = elements.filter((element) => element.localName === "coil-panel");
    this.lines = (panels.length ? panels : elements.slice(0, 1)).map((element, index) => {
      const line = document.createElement("div");
      line.className = "coil-line";
      line.hidden = true;
      if (index === 0) line.setAttribute("role", "status");
      else line.setAttribute("aria-hidden", "true");
      element.before(line);
      return line;
    });
    this.retry = retry;
  }

  show(state, sentence) {
    for (const line of this.lines) {
      line.dataset.state = state;
      line.hidden = state === "ready";
      if (line.dataset.said === sentence) continue;
      line.dataset.said = sentence;
      line.replaceChildren(document.createTextNode(state === "failed" ? `${sentence} ${KEPT} ` : sentence));
      if (state === "failed") {
        line.removeAttribute("aria-hidden"); // its button must be reachable
        const button = document.createElement("button");
        button.type = "button";
        button.textContent = "Try again";
        button.onclick = this.retry;
        line.append(button);
      }
    }
  }
}

// One sentence about the record, at the top of the page's text; an empty one takes it away.
function notice(sentence) {
  let box = document.querySelector(".coil-notice");
  if (!sentence) {
    box?.remove();
    return;
  }
  if (!box) {
    box = document.createElement("p");
    box.className = "coil-notice";
    box.setAttribute("role", "status");
    (document.querySelector("article") ?? document.body).prepend(box);
  }
  box.textContent = sentence;
}

// From a server the parts lie beside this script. From a double click a browser lets no page fetch files,
// so they come in a script (see start.js) as `globalThis.coilFiles`: module sources and bytes by name.
function fromServer() {
  const here = (name) => new URL(name, import.meta.url).href;
  return {
    face: here("./face.js"),
    makeWorker: () => new Worker(here("./worker.js"), { type: "module", name: "live model" }),
    begin: { python: here(`../../${PYTHON}/`), course: here("./course.zip") },
    unstarted: "The live model could not be fetched.",
    makeRunner: () => new Worker(here("./runner.js"), { type: "module", name: "runs" }),
    bytes: (name) => fetched(here(`./${name}`)),
    kernel: async () => ({ code: here("./kernel.js"), bytes: await fetched(here("./kernel.wasm")) }),
  };
}

async function fetched(address) {
  const reply = await fetch(address);
  if (!reply.ok) throw new Error(`${reply.status} ${reply.statusText}`);
  return reply.arrayBuffer();
}

function fromFiles(files) {
  return {
    face: files.module("face.js"),
    makeWorker: () => new Worker(files.module("worker.js"), { type: "module", name: "live model" }),
    begin: { files: files.bytes },
    unstarted: "This browser does not run the model in a page opened by a double click; open the folder through any server of files.",
    makeRunner: () => new Worker(files.module("runner.js"), { type: "module", name: "runs" }),
    bytes: async (name) => files.bytes[name],
    kernel: async () => ({ code: files.module("kernel.js"), bytes: files.bytes["kernel.wasm"] }),
  };
}

// The page is to stay light: the worker is started by the first touch, or, where a panel has nothing to answer that with, by a button.
async function untilPressed(host, elements) {
  host.asleep = true;
  const all = await Promise.all(elements.map((element) => host.early.answer({ do: "panel", name: element.getAttribute("name") })));
  if (all.every(Boolean)) return;
  await new Promise((resolve) => elements[0].before(globalThis.coilButton(resolve)));
  host.start();
}

async function comeAlive(elements) {
  const parts = globalThis.coilFiles ? fromFiles(globalThis.coilFiles) : fromServer();
  let host = null;
  const lines = new Lines(elements, () => host.start());
  const keeper = new Keeper(notice, async (text) => {
    await host.ask({ do: "load", record: text }); // another tab went on; so does this one
    document.dispatchEvent(new CustomEvent("coil-record", { detail: { what: "import", by: null } }));
  });
  const show = (state, sentence) => {
    lines.show(state, sentence);
    if (state === "ready") document.dispatchEvent(new CustomEvent("coil-ready")); // offline.js waits for it
  };
  const pool = new Pool({ makeWorker: parts.makeRunner, begin: parts.kernel });
  host = new Host({ ...parts, keeper, notice, show, pool, early: new Early(parts.bytes) });
  globalThis.coilHost = host; // for the tests, which end its worker
  if (!globalThis.coilFiles && elements.every((element) => element.dataset.start === "press")) await untilPressed(host, elements);
  else host.start();
  followAddress(notice);
  try {
    const face = await import(parts.face);
    face.connect((request, signal) => host.ask(request, signal));
  } catch (error) {
    host.stop();
    lines.retry = () => location.reload();
    lines.show("failed", `The live part of this page could not be fetched (${error.message}).`);
  }
}

comeAlive([...document.querySelectorAll(LIVE)]);
