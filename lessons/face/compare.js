// A run that the reader keeps to compare: it stays drawn, pale, beside what comes next, and its readings beside the present ones,
// until it is let go or another is kept. It is the picture that was drawn, so nothing is computed, and nothing that happens to the
// engine can take it away. Kept in this element only: a notebook or page opened anew begins without.
//
// While a run is kept there is no ghost of the former curve: two pale curves could not be told apart, and who keeps a run has said
// which of the two they want to see.

import { h, quantity } from "./dom.js";

/** Is there in a panel's figures what can be compared: curves, or the columns of a ladder? */
const comparable = (figures) => Object.keys(figures).some((name) => /^(strips|ladder|charts\..*)$/.test(name));

/** The position of a control as the panel says it, in the middle of a sentence. */
function said({type, options, unit, step}, value) {
  if (type === "choice") return options.find(([key]) => key === value)?.[1] ?? String(value);
  if (type === "lines") return `${value.length} ${value.length === 1 ? "line" : "lines"}`;
  return value === null ? "not taken" : quantity(value, unit, step);
}

/** The sentences of a text; the point of a number ends none. */
const sentences = (text) => text.match(/.+?[.?!](?=\s|$)|.+$/gs)?.map((each) => each.trim()) ?? [];

export class Comparison {
  run = null;       // {figures, picture, values}: what is kept
  #drawn = null;    // the last whole picture, as such a run

  /**
   * `changed(sentence)` is called when a run was kept or let go, with the words for a screen reader; `fetch()` is to take the run
   * of the controls as they stand, whose whole picture is not drawn yet.
   */
  constructor(changed, fetch) {
    Object.assign(this, {changed, fetch});
    this.button = h("button", {type: "button", class: "quiet", onclick: () => this.keep()});
    this.away = h("button", {type: "button", class: "quiet", onclick: () => this.letGo()}, "Let the kept run go");
    this.words = h("p", {class: "kept-run", hidden: true});     // how it was set
    this.outcome = h("p", {class: "kept-outcome", hidden: true}); // what came of it, to stand under what comes of the present one
    this.#show(false);
  }

  get buttons() {
    return [this.button, this.away];
  }

  /** Keep the run of the controls as they stand at this moment, whatever is set next. */
  keep() {
    if (this.#drawn) this.take(this.#drawn);
    else this.fetch();
  }

  take(run) {
    this.run = run;
    this.changed("This run is kept: it stays drawn, pale, beside what comes next.");
    this.#show();
  }

  letGo() {
    if (!this.run) return;
    const held = this.away.matches(":focus");
    this.run = null;
    this.changed("The kept run is let go.");
    this.#show();
    if (held) this.button.focus();  // the button that had the focus is gone
  }

  /** A control was moved: what is drawn is no more what it says, until the whole picture has come. */
  moved() {
    this.#drawn = null;
  }

  /** A whole picture was drawn. */
  drawn(run) {
    this.#drawn = run;
    this.offered = comparable(run.figures);
    this.#show();
  }

  #show(offered = this.offered || this.run !== null) {
    this.button.hidden = !offered;
    this.button.textContent = this.run ? "Keep this one instead" : "Keep this to compare";
    this.away.hidden = this.words.hidden = this.outcome.hidden = !this.run;
  }

  /** Say how the kept run was set, where that is not as now, and what came of it. */
  tell(controls, values) {
    if (!this.run) return;
    const now = ({symbol}) => JSON.stringify(values[symbol]), then = ({symbol}) => JSON.stringify(this.run.values[symbol]);
    const other = controls.filter((control) => now(control) !== then(control))
      .map((control) => `${control.label} ${said(control, this.run.values[control.symbol])}, now ${said(control, values[control.symbol])}`);
    this.words.replaceChildren(h("strong", {}, "Kept run: "), other.length ? `${other.join("; ")}.` : "set as now.");
    this.outcome.replaceChildren(h("strong", {}, "Kept: "), this.run.picture.sentence);
  }

  /** The kept run's reading of this name beside the present one; null where none is kept. */
  reading(label, text) {
    if (!this.run) return null;
    const kept = this.run.picture.readings.find((each) => each.label === label)?.text ?? "none";
    return h("dd", {class: "kept"}, kept === text ? "kept the same" : `kept ${kept}`);
  }

  /** The picture in words, as paragraphs: with a run kept what is said of the present one only, of the kept one only, and of both. */
  inWords(alt) {
    if (!this.run) return [alt];
    const now = sentences(alt), kept = sentences(this.run.picture.alt), set = this.words.textContent;
    const without = (some, others) => some.filter((each) => !others.includes(each));
    const [ofNow, ofKept] = [without(now, kept), without(kept, now)], both = without(now, ofNow);
    if (!ofNow.length && !ofKept.length) return [alt, set, "In words the two are the same."];
    return [ofNow.length && ["Now:", ...ofNow], [set, ...ofKept], both.length && ["Both runs:", ...both]].filter(Boolean).map((part) => part.join(" "));
  }

  /** A sentence for a screen reader, behind the one on the present run. */
  get sentence() {
    return this.run ? `In the kept run: ${this.run.picture.sentence}` : "";
  }
}
