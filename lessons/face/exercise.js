// <coil-exercise key="...">: the question, the form its kind needs, check, hints one at a time, and what came of it.

import { FaceElement } from "./base.js";
import { h, rich } from "./dom.js";

/** A form per kind: (form, last answer, element, lines begun) -> {node, answer()}; `answer` gives what the engine's judge expects. */
const FORMS = {
  number: ({unit, units = [unit]}, last) => {
    const value = h("input", {type: "text", inputmode: "decimal", id: "value", autocomplete: "off", value: last?.value});
    const only = units.length < 2;
    const select = only ? null : h("select", {id: "unit"}, ...units.map((name) => h("option", {value: name, selected: name === (last?.unit ?? unit)}, name)));
    const node = h("div", {class: "number"}, h("label", {for: "value"}, only && unit !== "1" ? `Your answer (${unit})` : "Your answer"), value,
      only ? null : h("label", {}, h("span", {class: "unseen"}, "Unit"), select));
    return {node, answer: () => ({value: value.value, unit: only ? unit : select.value})};
  },

  choice: ({options}, last) => {
    const node = h("fieldset", {}, h("legend", {}, "Choose one"), ...options.map(({key, text}) => h("label", {class: "option"},
      h("input", {type: "radio", name: "choice", value: key, checked: key === last}), h("span", {}, rich(text)))));
    return {node, answer: () => node.querySelector("input:checked")?.value ?? null};
  },

  ordering: ({items}, last) => {
    const known = new Map(items.map(({key, text}) => [key, text]));
    let keys = Array.isArray(last) && last.length === known.size && last.every((key) => known.has(key)) ? [...last] : [...known.keys()];
    const list = h("ol", {class: "ordering"}), told = h("p", {class: "unseen", "aria-live": "polite"});
    const move = (key, by) => {
      const from = keys.indexOf(key), to = from + by;
      if (to < 0 || to >= keys.length) return;
      keys.splice(to, 0, ...keys.splice(from, 1));
      told.textContent = `${known.get(key)}: now ${to + 1} of ${keys.length}`;
      draw();
      const [up, down] = list.children[to].querySelectorAll("button");
      const pressed = by < 0 ? up : down;
      (pressed.disabled ? (by < 0 ? down : up) : pressed).focus();
    };
    const draw = () => list.replaceChildren(...keys.map((key, i) => h("li", {
      onkeydown: (event) => {
        const by = {ArrowUp: -1, ArrowDown: 1}[event.key];
        if (by) { event.preventDefault(); move(key, by); }
      },
    }, h("span", {}, rich(known.get(key))),
      h("button", {type: "button", "aria-label": `Move up: ${known.get(key)}`, disabled: i === 0, onclick: () => move(key, -1)}, "\u2191"),
      h("button", {type: "button", "aria-label": `Move down: ${known.get(key)}`, disabled: i === keys.length - 1, onclick: () => move(key, 1)}, "\u2193"))));
    draw();
    const node = h("div", {role: "group", "aria-label": "Put these in order, first at the top"}, h("p", {class: "soft small"}, "First at the top. Use the buttons, or the up and down arrow keys on them."), list, told);
    return {node, answer: () => [...keys]};
  },

  sliders: (form, last, element) => {
    const panel = h("coil-panel", {name: form.panel, desk: element.getAttribute("desk")});
    const left = Object.fromEntries(form.controls.filter((symbol) => symbol in (last ?? {})).map((symbol) => [symbol, last[symbol]]));
    Object.assign(panel, {ask: element.ask, only: form.controls, fixed: form.fixed ?? {}, start: {...form.start, ...left}});
    const answer = () => {
      panel.begin();  // it may be far down a long page and not have begun
      if (form.controls.some((symbol) => !(symbol in panel.values))) throw new Error("The panel of this task is still starting: wait until its sliders show, then check.");
      return Object.fromEntries(form.controls.map((symbol) => [symbol, panel.values[symbol]]));
    };
    return {node: panel, answer};
  },

  log: ({panel: name, symbol, fixed, most}, last, element, begun) => {
    const panel = h("coil-panel", {name, desk: element.getAttribute("desk")});
    const left = (begun.length ? begun : Array.isArray(last) ? last : []).slice(0, most);  // a sheet of old may have had more lines
    Object.assign(panel, {ask: element.ask, only: [symbol], fixed, kept: true, start: {[symbol]: left}});
    const answer = () => {
      panel.begin();
      if (!(symbol in panel.values)) throw new Error("The bench of this task is still starting: wait until its log shows, then check.");
      return [...panel.values[symbol]];
    };
    panel.addEventListener("coil-changed", () => element.write(answer()));
    if (left.length && !begun.length) panel.addEventListener("coil-painted", () => panel.renew(true), {once: true});  // it was handed back before
    return {node: panel, answer, judged: ({passed}) => panel.renew(!passed)};
  },

  function: ({name, stub}, last) => {
    const area = h("textarea", {id: "source", class: "code", spellcheck: "false", autocapitalize: "off", autocomplete: "off", rows: Math.max(8, stub.split("\n").length + 3), "aria-describedby": "source-keys"});
    area.value = typeof last === "string" ? last : stub;
    let leaving = false;  // Escape, then Tab, leaves the field: no keyboard trap
    area.addEventListener("keydown", (event) => {
      if (event.key === "Tab" && !event.shiftKey && !leaving) {
        event.preventDefault();
        area.setRangeText("    ", area.selectionStart, area.selectionEnd, "end");
      }
      leaving = event.key === "Escape";
    });
    const back = h("button", {type: "button", class: "quiet", onclick: () => (area.value = stub)}, "Start again from the given lines");
    const node = h("div", {}, h("label", {for: "source"}, "Write the function ", h("code", {}, name)), area,
      h("p", {class: "soft small", id: "source-keys"}, "Tab indents by four spaces; press Escape, then Tab, to leave the field."), back);
    return {node, answer: () => area.value};
  },
};

const TAGS = {arithmetic: "second track: arithmetic", code: "second track: for those who program"};

/** The panel of the page in which an event began, where it is not part of an exercise; else nothing. */
function panelOf(event) {
  const path = event.composedPath();
  return path.some((node) => node.localName === "coil-exercise") ? null : path.find((node) => node.localName === "coil-panel");
}

/** The events by which a panel tells that it was touched, that its values changed, and that it stands as it begins. */
const MOVES = ["input", "click", "coil-changed", "coil-painted"];

export class CoilExercise extends FaceElement {
  get key() {
    return this.getAttribute("key");
  }

  async load() {
    this.onrecord ??= (event) => event.detail.what !== "verdict" && this.#again();
    document.addEventListener("coil-record", this.onrecord);
    this.onmove ??= (event) => this.#moved(event);
    for (const kind of MOVES) document.addEventListener(kind, this.onmove);
    const {exercise, state, learner} = await this.request({do: "exercise", key: this.key});
    this.learner = learner;
    this.#build(exercise, state);
    this.live(this.section);
  }

  /** Another nickname or record: the variant may be another, so ask anew. */
  #again() {
    this.load().catch((fault) => this.fail(fault.message));
  }

  disconnectedCallback() {
    super.disconnectedCallback();
    document.removeEventListener("coil-record", this.onrecord);
    for (const kind of MOVES) document.removeEventListener(kind, this.onmove);
  }

  connectedCallback() {
    super.connectedCallback();
    if (this.onrecord) document.addEventListener("coil-record", this.onrecord);
    if (this.onmove) for (const kind of MOVES) document.addEventListener(kind, this.onmove);
  }

  #build(exercise, state) {
    const {form} = exercise;
    this.form = FORMS[form.kind](form, state.last_answer, this, state.lines);
    this.feedback = h("div", {class: "feedback", "aria-live": "polite"});
    this.tries = h("p", {class: "soft small", tabindex: -1});
    this.hints = h("ol", {class: "hints", "aria-live": "polite"});
    this.hintButton = h("button", {type: "button", class: "quiet", onclick: () => this.#hint()});
    this.checkButton = h("button", {type: "submit"}, exercise.prediction ? "Keep my prediction" : "Check");
    this.wayButton = h("button", {type: "button", class: "quiet", onclick: () => this.#way()});
    this.way = h("div", {class: "way", "aria-live": "polite"});
    const tags = [exercise.prediction ? "predict first" : null, TAGS[exercise.track]].filter(Boolean);
    this.prediction = exercise.prediction;
    this.about = exercise.about;
    this.stood ??= new Map();  // panel: its values when it was last seen
    this.words = exercise.prediction ? h("textarea", {id: "words", rows: 2, maxlength: 500}) : null;
    const why = this.words && h("label", {class: "words"}, "Why do you think so? In your own words, for yourself (you may leave it empty)", this.words);
    this.hintsTotal = exercise.hints_total;
    this.section = h("section", {class: "exercise", "aria-labelledby": "title"},
      h("h3", {id: "title"}, exercise.title, ...tags.flatMap((tag) => [" ", h("span", {class: "tag"}, tag)])),
      h("div", {class: "prompt"}, rich(exercise.prompt)),
      h("form", {onsubmit: (event) => { event.preventDefault(); this.#check(); }}, this.#watched(this.form.node), why,
        h("div", {class: "buttons"}, this.checkButton, this.hintButton, this.wayButton), this.hints, this.feedback, this.tries, this.way));
    this.#show(state);
    if (state.shown) this.#way();
  }

  #show(state) {
    const {tries, passed, passed_at: at, hints, last_message: message} = state;
    this.section.dataset.passed = String(Boolean(passed));
    this.hints.replaceChildren(...hints.map((hint) => h("li", {}, rich(hint))));
    this.hints.hidden = !hints.length;
    this.hintButton.hidden = hints.length >= this.hintsTotal;
    this.hintButton.textContent = `Next hint (${hints.length + 1} of ${this.hintsTotal})`;
    const count = tries === 1 ? "1 try" : `${tries} tries`;
    this.state = state;
    this.wayButton.textContent = this.prediction ? "Compare with what happens" : "Show me the way (it then counts as shown, not as passed)";
    this.wayButton.hidden = !state.may_show || (!this.prediction && passed) || state.shown;
    if (this.prediction) return this.#kept(state);
    this.tries.textContent = state.shown ? "The way was shown; what you try now is for yourself." : !tries ? "" : passed ? `Passed at ${at === 1 ? "the first try" : `try ${at}`}${tries > at ? `; ${count} in all` : ""}.` : `${count}, not passed yet.`;
    if (message && !this.prediction) this.feedback.replaceChildren(h("strong", {}, "Last time:"), h("div", {}, rich(message)));
  }

  /** The panels of the page that the prediction is about. */
  #triedOn() {
    return [...document.querySelectorAll("coil-panel")].filter((panel) => !panel.closest("coil-exercise") && panel.getAttribute("name") in (this.about?.panels ?? {}));
  }

  /** A prediction is made once: it stands as it was kept, and is answered when what it is about has been moved. */
  #kept({tries, words}) {
    const kept = tries > 0;
    for (const field of this.section.querySelectorAll("fieldset, form input, form textarea, form select, .ordering button")) field.disabled = kept;
    this.checkButton.hidden = kept;
    if (kept) this.words.value = words;
    for (const panel of this.#triedOn()) if (!this.stood.has(panel) && Object.keys(panel.values ?? {}).length) this.stood.set(panel, {...panel.values});
    const waits = kept && !this.seen && this.#triedOn().length > 0;
    this.wayButton.disabled = waits;
    this.tries.textContent = !kept ? "" : waits ? `Kept. Now try it on the panel with ${this.about.words}; then come back and compare.` : "Kept.";
  }

  #moved(event) {
    if (!this.prediction || this.seen) return;
    const panel = panelOf(event), wanted = panel && this.about?.panels[panel.getAttribute("name")];
    if (!wanted) return;
    const now = {...panel.values}, before = this.stood.get(panel);
    this.stood.set(panel, now);
    if (!this.state?.tries) return;
    const changed = event.type === "coil-changed" && before && wanted.some((symbol) => JSON.stringify(now[symbol]) !== JSON.stringify(before[symbol]));
    if (!changed && (wanted.length || event.type === "coil-painted")) return;
    this.seen = true;
    this.#show(this.state);
  }

  /** Show the right answer with its reason; of a prediction, what the learner said beside what happens. */
  async #way() {
    try {
      const {way, state} = await this.request({do: "way", key: this.key, learner: this.learner});
      this.seen = true;
      this.#show({...state, last_message: null});
      const code = (text) => text.includes("\n") ? h("pre", {}, text) : h("p", {}, rich(text));
      const reason = h("div", {}, rich(way.reason));
      this.way.replaceChildren(...this.prediction
        ? [h("div", {class: "compared"}, h("div", {}, h("strong", {}, "You said"), code(way.said), state.words ? h("blockquote", {}, state.words) : null),
          h("div", {}, h("strong", {}, "What happens"), code(way.answer), reason))]
        : [h("strong", {}, "The way"), h("ol", {}, ...way.steps.map((step) => h("li", {}, rich(step)))), h("p", {}, "So the answer is:"), code(way.answer), reason]);
      this.wayButton.hidden = true;
      this.tellOthers("verdict");
    } catch (fault) {
      await this.#refused(fault);
    }
  }

  /** Keep the lines of a log as soon as they are written: what is done stays done, also when the page is opened again. */
  async write(lines) {
    try {
      await this.request({do: "write", key: this.key, lines, learner: this.learner});
    } catch (fault) {  // another nickname, or another window has gone on: show what stands
      await this.load().catch(() => {});
      await this.#refused(fault);
    }
  }

  /** A verdict is on the answer that was checked: once that is changed it is withdrawn, and what was said of it stays as help. */
  #watched(node) {
    const withdraw = () => {
      const verdict = this.feedback.querySelector(".verdict");
      if (!verdict) return;
      this.feedback.setAttribute("aria-live", "off");  // nothing new to hear
      verdict.replaceWith(h("span", {class: "soft"}, "Of your answer before you changed it:"));
      delete this.feedback.dataset.passed;
    };
    for (const type of ["input", "change", "click", "coil-changed"]) {
      node.addEventListener(type, () => JSON.stringify(this.#answered()) !== this.checked && withdraw());
    }
    return node;
  }

  /** The answer as it stands, or null where there is none yet. */
  #answered() {
    try {
      return this.form.answer();
    } catch {
      return null;
    }
  }

  async #check() {
    if (this.checkButton.getAttribute("aria-disabled")) return;
    const focused = this.shadowRoot?.activeElement === this.checkButton;
    this.checkButton.setAttribute("aria-disabled", "true");  // not disabled: that would drop the focus of who pressed it by key
    this.feedback.setAttribute("aria-live", "polite");
    this.feedback.replaceChildren(h("p", {class: "soft"}, "Checking \u2026"));
    try {
      const answer = this.form.answer();
      const {verdict, state} = await this.request({do: "judge", key: this.key, answer, learner: this.learner, words: this.words?.value ?? ""});
      this.checked = JSON.stringify(answer);
      if (state.tries) this.form.judged?.(verdict);
      this.seen = false;
      this.#show({...state, last_message: null});
      if (this.prediction && state.tries) this.feedback.replaceChildren();
      else {
        this.feedback.dataset.passed = String(verdict.passed);
        this.feedback.replaceChildren(h("strong", {class: "verdict"}, verdict.passed ? "\u2713 Right." : state.passed ? "\u25b3 Not this time; you have passed, and that stands." : "\u25b3 Not yet."), h("div", {}, rich(verdict.passed ? verdict.reason : verdict.message)));
      }
      this.tellOthers("verdict");
    } catch (fault) {
      await this.#refused(fault);
    }
    this.checkButton.removeAttribute("aria-disabled");
    if (focused && this.checkButton.hidden) this.tries.focus();  // a prediction is kept, and its button gone
    this.dispatchEvent(new CustomEvent("coil-judged", {bubbles: true, composed: true, detail: {key: this.key}}));
  }

  /** Say why nothing was judged or shown; where the nickname is another by now, show the question with its numbers first. */
  async #refused(fault) {
    if (fault.learner) await this.load().catch(() => {});
    this.feedback.dataset.passed = "false";
    this.feedback.replaceChildren(h("p", {}, fault.message));
  }

  async #hint() {
    try {
      const {state} = await this.request({do: "hint", key: this.key, learner: this.learner});
      this.#show({...state, last_message: null});
      if (!this.hintButton.hidden) return;
      this.hints.lastElementChild.tabIndex = -1;  // the button is gone after the last, and with it where a keyboard was
      this.hints.lastElementChild.focus();
    } catch (fault) {
      await this.#refused(fault);
    }
  }
}
