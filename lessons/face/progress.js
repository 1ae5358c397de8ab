// <coil-progress>: the learner's nickname, what is done and what to repeat, and the record as a file to keep or bring back.
// With the attribute lesson="5" that lesson is open and stands first, and the others are folded away together.

import { FaceElement } from "./base.js";
import { h } from "./dom.js";

/** What one exercise's line says. */
function standing({tries, passed, passed_at: at, prediction, shown}) {
  if (prediction && tries) return shown ? "\u2713 predicted, and compared" : passed ? "\u2713 predicted rightly" : "\u25b3 predicted: now compare";
  if (shown && !passed) return "\u25cb the way was shown";
  if (passed) return at === 1 ? "\u2713 passed at the first try" : `\u2713 passed after ${at} tries`;
  return tries ? `\u25b3 repeat: ${tries === 1 ? "1 try" : `${tries} tries`}, not passed yet` : "\u2013 not tried";
}

/** The tags of the tracks that are not asked of everyone. */
const TRACKS = {arithmetic: "second track: arithmetic", code: "second track: code"};

/** "3 of 7 passed", of the exercises that are asked of everyone; a prediction is done with when it has been compared. */
function passed(lessons) {
  const needed = lessons.flatMap(({exercises}) => exercises).filter((exercise) => exercise.track === "bench");
  return `${needed.filter((exercise) => exercise.passed || (exercise.prediction && exercise.shown)).length} of ${needed.length} passed`;
}

function oneLesson({lesson, title, exercises}, open) {
  return h("details", {open},
    h("summary", {}, `Lesson ${lesson}: ${title} \u2013 ${passed([{exercises}])}`),
    h("table", {}, h("caption", {class: "unseen"}, `Exercises of lesson ${lesson}`),
      h("thead", {}, h("tr", {}, h("th", {scope: "col"}, "Exercise"), h("th", {scope: "col"}, "Where it stands"))),
      h("tbody", {}, ...exercises.map((exercise) => h("tr", {},
        h("th", {scope: "row"}, `${exercise.title} `, TRACKS[exercise.track] ? h("span", {class: "tag"}, TRACKS[exercise.track]) : null), h("td", {}, standing(exercise)))))));
}

export class CoilProgress extends FaceElement {
  async load() {
    this.onrecord ??= (event) => event.detail.by !== this && this.#refresh().catch((fault) => this.#say(fault.message, true));
    document.addEventListener("coil-record", this.onrecord);
    this.#build();
    await this.#refresh();
    this.live(this.section);
  }

  disconnectedCallback() {
    super.disconnectedCallback();
    document.removeEventListener("coil-record", this.onrecord);
  }

  connectedCallback() {
    super.connectedCallback();
    if (this.onrecord) document.addEventListener("coil-record", this.onrecord);
  }

  #build() {
    this.nickname = h("input", {type: "text", id: "nickname", autocomplete: "nickname", maxlength: 40});
    this.file = h("input", {type: "file", id: "file", class: "unseen", accept: ".json,application/json", tabindex: -1, "aria-hidden": "true", onchange: () => this.#bring()});
    this.told = h("p", {class: "feedback", "aria-live": "polite"});
    this.lessons = h("div", {class: "lessons"});
    this.section = h("section", {class: "progress", "aria-labelledby": "title"},
      h("h3", {id: "title"}, "Where you are"),
      h("form", {onsubmit: (event) => { event.preventDefault(); this.#name(); }},
        h("label", {for: "nickname"}, "Nickname"),
        h("div", {class: "buttons"}, this.nickname, h("button", {type: "submit"}, "Use this nickname")),
        h("p", {class: "soft small"}, "Your numbers in the exercises come from the nickname; any word will do. The record stays on this machine.")),
      this.lessons,
      h("div", {class: "buttons"},
        h("button", {type: "button", class: "quiet", onclick: () => this.#keep()}, "Save the record as a file"),
        h("button", {type: "button", class: "quiet", onclick: () => this.file.click()}, "Bring a record back"), this.file),
      this.told);
  }

  async #refresh() {
    const {nickname, lessons} = await this.request({do: "progress"});
    this.nickname.value = nickname ?? "";
    const here = lessons.filter(({lesson}) => String(lesson) === this.getAttribute("lesson"));
    const others = lessons.filter((lesson) => !here.includes(lesson));
    const list = others.map((lesson) => oneLesson(lesson, lessons.length === 1));
    const folded = here.length && others.length ? [h("details", {}, h("summary", {}, `The other lessons \u2013 ${passed(others)}`), ...list)] : list;
    this.lessons.replaceChildren(...here.map((lesson) => oneLesson(lesson, true)), ...folded);
  }

  #say(sentence, wrong = false) {
    this.told.dataset.passed = String(!wrong);
    this.told.textContent = sentence;
  }

  async #attempt(work, well) {
    try {
      await work();
      if (well) this.#say(well());
    } catch (fault) {
      this.#say(fault.message, true);
    }
  }

  #name() {
    return this.#attempt(async () => {
      await this.request({do: "learner", nickname: this.nickname.value});
      await this.#refresh();
      this.tellOthers("learner");
    }, () => `The exercises now use the nickname ${this.nickname.value}.`);
  }

  #keep() {
    return this.#attempt(async () => {
      const {filename, text} = await this.request({do: "export"});
      const link = h("a", {href: URL.createObjectURL(new Blob([text], {type: "application/json"})), download: filename});
      link.click();
      setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
      this.#say(`Saved as ${filename}.`);
    });
  }

  #bring() {
    return this.#attempt(async () => {
      const [file] = this.file.files;
      if (!file) return;
      const text = await file.text();
      await this.request({do: "import", text}).catch(({message}) => {
        throw new Error(`${file.name} was not taken, and your record is as it was. ${message}`);
      });
      await this.#refresh();
      this.tellOthers("import");
      this.#say(`The record in ${file.name} is now yours.`);
    }).finally(() => (this.file.value = ""));
  }
}
