// What the three elements have in common: a shadow root that shows the fallback inside the element until it is live,
// the host page's light or dark, a start when the reader comes near, and a way to ask the engine.

import { STYLE } from "./assembled.js";
import { Desks } from "./desk.js";
import { h, unpack } from "./dom.js";

const sheet = new CSSStyleSheet();
sheet.replaceSync(STYLE);

let answer;
const connected = new Promise((resolve) => (answer = resolve));

/** Give every element on the page that has no `ask` of its own a way to ask: ask(request) -> Promise<{tree, arrays}>. */
export function connect(ask) {
  answer(ask);
}

/** Dark or light, judged by what is really behind the element, so that any host's theme is followed and none is assumed. */
function themeBehind(element) {
  for (let node = element; node; node = node.parentElement ?? node.getRootNode().host) {
    const [r, g, b, alpha = 1] = getComputedStyle(node).backgroundColor.match(/[\d.]+/g)?.map(Number) ?? [0, 0, 0, 0];
    if (alpha > 0.5) return 0.299 * r + 0.587 * g + 0.114 * b < 110 ? "dark" : "light";
  }
  return "light";
}

/** What the element scrolls in: JupyterLab's notebook has a scroller of its own, a page of the book has none. */
export function scrollerOf(element) {
  for (let node = element.parentElement; node && node !== document.body; node = node.parentElement) {
    if (/auto|scroll/.test(getComputedStyle(node).overflowY) && node.scrollHeight > node.clientHeight + 1) return node;
  }
  return document.documentElement;
}

/**
 * A host may wrap each output in boxes that could scroll but never do, as JupyterLab does. In such a box nothing can stick to the
 * screen's edge, so those around this element are opened; one that really scrolls (a height was set for it) stays.
 */
function openWrappers(element) {
  const outermost = element.closest(".jp-Cell-outputWrapper");
  for (let node = element.parentElement; outermost && node && node !== outermost; node = node.parentElement) {
    const {overflowX, overflowY, maxHeight} = getComputedStyle(node);
    if (maxHeight === "none" && (overflowX !== "visible" || overflowY !== "visible")) node.style.overflow = "visible";
  }
}

const near = new IntersectionObserver((entries) => {
  for (const {isIntersecting, target} of entries) if (isIntersecting) target.begin();
}, {rootMargin: "800px 0px"});

const BUSY = "No answer yet: the kernel is still at work, and this follows when it is done.";
const PATIENCE = 2000;  // ms without an answer after which the reader is told so
const PAPER = 640;  // width of a printed page's text, in CSS pixels

/** Base of the elements. A subclass gives `load()` (ask, then build with `live(...)`) and may give `restyle()` and `fit(width)`. */
export class FaceElement extends HTMLElement {
  static desks = new Desks();

  ask = null;      // to the desk of the notebook's kernel that the attribute "desk" names; in the book all share the one given to connect()
  desk = null;
  theme = "light";
  #begun = false;
  #onprint = ({type}) => {  // paper is white and narrower than most screens
    this.#followTheme(type === "beforeprint" ? "light" : themeBehind(this));
    this.fit?.(type === "beforeprint" ? PAPER : null);
  };

  connectedCallback() {
    if (!this.shadowRoot) {
      const root = this.attachShadow({mode: "open"});
      root.adoptedStyleSheets = [sheet];
      this.line = h("p", {class: "trouble", role: "status", hidden: true});  // what the kernel is at
      this.body = h("div", {class: "face"}, this.line, h("slot"));
      root.append(this.body);
      root.addEventListener("beforeinput", (event) => event.stopPropagation());  // JupyterLab would swallow Enter in a text field
    }
    this.setAttribute("data-lm-suppress-shortcuts", "true");  // or JupyterLab's own keys take the arrows from the sliders
    this.watcher = new MutationObserver(() => {
      this.#followTheme(themeBehind(this));
      setTimeout(() => this.#followTheme(themeBehind(this)), 500);  // a host may fade from one theme to the other
    });
    for (const node of [document.documentElement, document.body]) this.watcher.observe(node, {attributes: true});
    this.#followTheme(themeBehind(this));
    for (const type of ["beforeprint", "afterprint"]) addEventListener(type, this.#onprint);
    openWrappers(this);
    near.observe(this);
    this.desk?.addEventListener("change", this.#onkernel);
    this.#onkernel();
  }

  disconnectedCallback() {
    this.desk?.removeEventListener("change", this.#onkernel);
    near.unobserve(this);
    this.watcher.disconnect();
    for (const type of ["beforeprint", "afterprint"]) removeEventListener(type, this.#onprint);
  }

  /** Start once, when first near the screen. */
  async begin() {
    if (this.#begun) return;
    this.#begun = true;
    near.unobserve(this);
    this.dataset.state = "waiting";
    try {
      if (this.hasAttribute("desk")) await this.#sit();
      await this.load();
    } catch (fault) {
      this.fail(fault.message);
    }
  }

  /** Ask the engine; resolves to the reply with its buffers put back, rejects with the engine's own sentence. `signal`: nobody wants it any more. */
  async request(request, signal = null) {
    const ask = this.ask ?? await connected;
    const slow = this.desk && setTimeout(() => this.#say(BUSY), PATIENCE);
    const {tree, arrays} = await ask(request, signal).finally(() => { clearTimeout(slow); this.#onkernel(); });
    if (tree.error) throw Object.assign(new Error(tree.error), {learner: tree.learner});
    for (const note of tree.notes ?? []) this.body.append(h("p", {class: "trouble", role: "status"}, note));
    return unpack(tree, arrays);
  }

  /** Put the live parts in the place of the fallback. */
  live(...nodes) {
    this.body.replaceChildren(this.line, ...nodes);
    this.dataset.state = "live";
    this.#onkernel();
  }

  /** Before the element is live: keep the fallback and say what went wrong under it. */
  fail(sentence) {
    this.dataset.state = "error";
    this.body.querySelector(".trouble")?.remove();
    this.body.append(h("p", {class: "trouble", role: "alert"}, sentence));
  }

  /** The verdicts, the nickname or the whole record changed: let the other elements of the page know. */
  tellOthers(what) {
    document.dispatchEvent(new CustomEvent("coil-record", {detail: {what, by: this}}));
  }

  /** Wait for the desk of the notebook's kernel: where that kernel is gone, the stand-in inside the element stays. */
  async #sit() {
    this.desk = await FaceElement.desks.at(this.getAttribute("desk"));
    this.ask = (request) => this.desk.ask(request);
    if (this.isConnected) this.desk.addEventListener("change", this.#onkernel);
  }

  /** Say what the kernel is at; where it has stopped, nothing here can be moved any more. What was typed stays. */
  #onkernel = () => {
    if (!this.desk) return;
    this.#say(this.desk.stopped || this.desk.waiting);
    if (!this.desk.stopped || this.dataset.state === "waiting") return;
    this.dataset.state = "stopped";
    for (const control of this.body.querySelectorAll("input, select, textarea, button")) control.disabled = true;
  };

  #say(sentence) {
    this.line.textContent = sentence;
    this.line.hidden = !sentence;
  }

  #followTheme(theme) {
    this.body.dataset.theme = theme;
    if (theme === this.theme) return;
    this.theme = theme;
    this.restyle?.();
  }
}
