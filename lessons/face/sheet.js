// <coil-sheet>: the learner's own bench sheet (CSV), chosen or dropped, read by the engine, and a coil card for each coil in it.
//
// Attribute `home`: where the page stands that tells how readings are taken. `kernel`: the engine is a notebook's kernel, which may sit on another machine; without it all stays in this page.

import { HUES } from "./assembled.js";
import { FaceElement } from "./base.js";
import { h, s } from "./dom.js";
import { BarsDrawing } from "./draw_bars.js";

const LARGEST_SHEET = 2_000_000;  // bytes; a year of weekly readings of forty coils is a tenth of it
const MOST_CARDS = 24;            // cards; more than that is work for the command

const STAYS = "Your file stays on this machine: it is read inside this page, and nothing of it is sent anywhere.";
const KERNEL = "Your file goes to this notebook's own Python and nowhere else. On your own computer it stays there; a hosted notebook forgets it when the session ends.";

const cardStyle = ({ink, rule, edge}) => `body { font: 15px/1.45 system-ui, sans-serif; color: ${ink}; max-width: 46em; margin: 1.5em auto; padding: 0 1em; }
h4 { font-size: 1.3em; margin: 0 0 0.3em; } table { border-collapse: collapse; width: 100%; } caption { text-align: left; font-weight: 600; }
th, td { text-align: left; padding: 0.25em 0.7em 0.25em 0; border-bottom: 1px solid ${rule}; vertical-align: top; font-weight: 400; } thead th { font-weight: 600; }
svg { max-width: 100%; } svg text { font: 12px system-ui, sans-serif; fill: ${ink}; } .strong text { font-weight: 700; } .buttons { display: none; }
.histories { display: flex; flex-wrap: wrap; gap: 1em; } .history { margin: 0; max-width: 290px; } .history path { fill: none; stroke: ${edge}; } .history .line { stroke: ${ink}; }
.history .usual { fill: ${rule}; } .history .dot { fill: ${ink}; stroke: ${ink}; } .history .old { fill: none; } .small, .history text { font-size: 0.87em; }
.caution { border-left: 4px solid ${edge}; padding-left: 0.7em; } figcaption > * { margin-right: 1em; }`;

/** The bytes of a file as base64, which a request can carry whatever the file's encoding. */
async function base64(file) {
  const bytes = new Uint8Array(await file.arrayBuffer());
  let text = "";
  for (let at = 0; at < bytes.length; at += 32768) text += String.fromCharCode.apply(null, bytes.subarray(at, at + 32768));
  return btoa(text);
}

/** A table whose rows stack where it is narrow; the roles are said, for a stacked table would lose them. */
function tableOf(caption, titles, rows) {
  return h("table", {role: "table"}, h("caption", {}, caption),
    h("thead", {role: "rowgroup"}, h("tr", {role: "row"}, ...titles.map((title) => h("th", {scope: "col", role: "columnheader"}, title)))),
    h("tbody", {role: "rowgroup"}, ...rows.map(([first, ...rest]) => h("tr", {role: "row"}, h("th", {scope: "row", role: "rowheader"}, first),
      ...rest.map((cell, i) => h("td", {role: "cell", "data-title": titles[i + 1]}, cell))))));
}

/** One reading over the days: a dot a reading (hollow where it no longer counts), the well-set range shaded, upright lines for adjustments. */
function history({title, words, points, days, usual, changes}) {
  const wide = 280, high = 96, left = 44, foot = 74, top = 8;
  const values = [...points.map(([, value]) => value), ...(usual ?? [])];
  const low = Math.min(...values), span = Math.max(...values) - low || 1, last = points.at(-1)[0] || 1;
  const x = (day) => left + 8 + (day / last) * (wide - left - 24), y = (value) => foot - 6 - ((value - low) / span) * (foot - top - 12);
  const look = {class: "edge"};
  return h("figure", {class: "history"}, h("figcaption", {}, title), s("svg", {role: "img", "aria-label": `${title}: ${words}`, width: wide, height: high, viewBox: `0 0 ${wide} ${high}`},
    usual ? s("rect", {class: "usual", x: left, y: y(usual[1]), width: wide - left, height: Math.max(2, y(usual[0]) - y(usual[1]))}) : null,
    s("path", {...look, d: `M${left} ${top}V${foot}H${wide}`}),
    ...changes.map((day) => s("path", {...look, "stroke-dasharray": "3 3", d: `M${x(day)} ${top}V${foot}`})),
    s("path", {class: "line", d: `M${points.map(([day, value]) => `${x(day)} ${y(value)}`).join("L")}`}),
    ...points.map(([day, value, counts]) => s("circle", {class: counts ? "dot" : "dot old", cx: x(day), cy: y(value), r: 4})),
    ...[low, low + span].map((value) => s("text", {x: left - 4, y: y(value) + 4, "text-anchor": "end"}, String(Number(value.toPrecision(3))))),
    s("text", {x: left, y: high - 6}, days[0]), days[1] === days[0] ? null : s("text", {x: wide, y: high - 6, "text-anchor": "end"}, days[1])),
    h("p", {class: "small"}, words));
}

function save(text, filename, type) {
  const link = h("a", {href: URL.createObjectURL(new Blob([text], {type})), download: filename});
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}

export class CoilSheet extends FaceElement {
  #busy = 0;   // counts the sheets shown; cards of an older one are dropped
  #figures = [];

  async load() {
    await this.request({do: "progress"});  // not live before the engine is
    this.#build();
    this.live(this.section);
  }

  #build() {
    this.file = h("input", {type: "file", id: "sheet", class: "unseen", accept: ".csv,.txt,.tsv,text/csv,text/plain", tabindex: -1, "aria-hidden": "true", onchange: () => this.#chosen(this.file.files)});
    this.told = h("p", {class: "feedback", "aria-live": "polite"});
    this.rows = h("div");
    this.cards = h("div", {class: "cards"});
    const drop = h("div", {class: "drop"},
      h("div", {class: "buttons"},
        h("button", {type: "button", onclick: () => this.file.click()}, "Choose a bench sheet (CSV)"), this.file,
        h("button", {type: "button", class: "quiet", onclick: () => this.#example()}, "Show the Larkfield Twelve"),
        h("button", {type: "button", class: "quiet", onclick: () => this.#keep({do: "template"})}, "Save an empty sheet"),
        h("button", {type: "button", class: "quiet", onclick: () => this.#keep({do: "example"})}, "Save the example")),
      h("p", {class: "soft small"}, `Or drop the file here. ${this.hasAttribute("kernel") ? KERNEL : STAYS}`));
    this.section = h("section", {class: "sheet", "aria-labelledby": "title"}, h("h3", {id: "title"}, "Your own bench sheet"), drop, this.told, this.rows, this.cards);
    const over = (event) => { event.preventDefault(); drop.classList.toggle("over", event.type === "dragover"); };
    for (const type of ["dragover", "dragleave"]) this.section.addEventListener(type, over);
    this.section.addEventListener("drop", (event) => { over(event); this.#chosen(event.dataTransfer.files); });
    new ResizeObserver(([{contentRect}]) => this.fit(Math.floor(contentRect.width))).observe(this.cards);
  }

  #say(sentence, wrong = false) {
    this.told.dataset.passed = String(!wrong);
    this.told.textContent = sentence;
  }

  async #attempt(work) {
    try {
      await work();
    } catch (fault) {
      this.#say(fault.message, true);
    }
  }

  #keep(request) {
    return this.#attempt(async () => {
      const {filename, text} = await this.request(request);
      save(text, filename, "text/csv");
      this.#say(`Saved as ${filename}.`);
    });
  }

  #example() {
    return this.#attempt(async () => {
      const {filename, text} = await this.request({do: "example"});
      await this.#show(new File([text], filename));
    });
  }

  #chosen(files) {
    const [file] = files;
    if (!file) return null;
    return this.#attempt(() => this.#show(file)).finally(() => (this.file.value = ""));
  }

  /** Read one file and show its cards, one after another. */
  async #show(file) {
    const turn = (this.#busy += 1);
    this.#figures = [];
    this.cards.replaceChildren();
    this.rows.replaceChildren();
    if (file.size > LARGEST_SHEET) throw new Error(`${file.name} has ${Math.round(file.size / 1e6)} MB. A bench sheet is a small text file (CSV), a row for each reading; this page reads up to ${LARGEST_SHEET / 1e6} MB.`);
    this.#say(`Reading ${file.name}`);
    let data;
    try {
      data = await base64(file);
    } catch {  // a folder dropped, a file that was taken away
      throw new Error(`${file.name} could not be read.`);
    }
    const {sheet} = await this.request({do: "sheet", data, name: file.name});
    if (turn !== this.#busy) return;
    this.#sentences(sheet.messages);
    const names = sheet.coils.slice(0, MOST_CARDS);
    for (const [place, coil] of names.entries()) {
      this.#say(`${sheet.summary} Card ${place + 1} of ${names.length}: ${coil}`);
      const {card} = await this.request({do: "card", coil});
      if (turn !== this.#busy) return;
      this.#card(card);
    }
    const more = sheet.coils.length - names.length;
    this.#say(`${sheet.summary}${more > 0 ? ` The first ${MOST_CARDS} are shown; for the other ${more} use python3 course.py bench.` : ""}`, !names.length);
  }

  #sentences(messages) {
    if (!messages.length) return;
    const list = h("ul", {}, ...messages.map((line) => h("li", {}, line)));
    const title = messages.length === 1 ? "One sentence about the file" : `${messages.length} sentences about the file`;
    this.rows.append(h("details", {open: messages.length < 6}, h("summary", {}, title), list));
  }

  #card(card) {
    const drawings = card.bars.map(() => new BarsDrawing());
    this.#figures.push(...drawings.map((drawing, i) => [drawing, card.bars[i]]));
    const paragraphs = (lines, attributes = {}) => lines.map((line) => h("p", attributes, line));
    const table = card.table.length ? tableOf("The readings against what well-set coils give", ["Reading", "Taken", "A well-set coil gives", "So it is"], card.table) : null;
    const fitted = card.fitted.length ? tableOf("The machine that these readings fit", ["Number", "Likely", "Nine in ten lie in", "Before any reading"], card.fitted) : null;
    const article = h("article", {class: "card", "aria-label": `Coil card: ${card.coil}`}, h("h4", {}, card.coil), h("p", {class: "soft small"}, card.when),
      h("p", {class: "sentence"}, card.sentence), ...paragraphs(card.held, {class: "small"}), h("p", {class: "caution small"}, card.cautions), ...paragraphs(card.next), ...this.#how(card.how), card.bars.length ? h("div", {class: "bars"}, ...drawings.map(({node}) => node)) : null, table, fitted,
      card.history.length ? h("div", {class: "histories"}, ...card.history.map(history)) : null,
      ...paragraphs(card.notes, {class: "small"}));
    const page = () => `<!doctype html><html lang="en"><meta charset="utf-8"><title>Coil card</title><style>${cardStyle(HUES.light)}</style>${article.outerHTML}</html>`;
    article.append(h("div", {class: "buttons"},
      h("button", {type: "button", class: "quiet", onclick: () => save(page(), card.filename, "text/html")}, `Save ${card.coil}'s card`),
      h("button", {type: "button", class: "quiet", onclick: () => this.#print(page())}, `Print ${card.coil}'s card`)));
    this.cards.append(article);
    this.#draw();
  }

  /** Where it stands how the reading that is asked for is taken: a link where there is such a page (attribute `home`), else in words. */
  #how(how) {
    if (!how) return [];
    const home = this.getAttribute("home");  // the address in full, so that it holds in a card that is saved
    return [h("p", {}, home ? h("a", {href: `${new URL(home, document.baseURI).href}#${how.anchor}`}, how.words) : how.words)];
  }

  /** Print one card alone: a frame of its own, for the page around it knows nothing of cards. */
  #print(text) {
    const frame = h("iframe", {class: "unseen", title: "Coil card to print", "aria-hidden": "true", srcdoc: text, onload: () => {
      frame.contentWindow.addEventListener("afterprint", () => frame.remove());
      frame.contentWindow.print();
    }});
    this.body.append(frame);
  }

  restyle() {
    this.#draw();
  }

  /** Draw for this width; null goes back to that of the screen. */
  fit(width) {
    if (width) this.seenWidth = width;
    this.#draw(width ?? this.seenWidth);
  }

  #draw(width = this.seenWidth) {
    if (width) for (const [drawing, bars] of this.#figures) drawing.show(bars, this.theme, {width: Math.min(width - 34, 760)});
  }
}
