// What the projected page and the presenter's window have in common: where the talk can stand, the keys, and how a panel in one
// window follows the same panel in the other. Plain scripts have one name to share: coilTalk.
(() => {
  // -------------------------------------------------------------------------------------------------- places
  // A place is {stop, step}: step 0 is the question alone, then one step at a time. `stops` hold {steps, long, short}: how many
  // steps, and the minutes of each talk, nought where the short one passes the stop by. The last place is the closing words.
  function places(stops, short) {
    const told = stops.map((stop, index) => ({ number: index + 1, steps: stop.steps, told: short ? stop.short > 0 : true }));
    const all = told.flatMap(({ number, steps, told: there }) => (there ? Array.from({ length: steps + 1 }, (_, step) => ({ stop: number, step })) : []));
    return [...all, { stop: stops.length + 1, step: 0 }];
  }

  const before = (a, b) => a.stop < b.stop || (a.stop === b.stop && a.step < b.step);
  const same = (a, b) => a.stop === b.stop && a.step === b.step;

  /** Where the action `what` leads from `place`; the place itself for what moves nothing. */
  function moved(stops, short, place, what) {
    const all = places(stops, short);
    if (what === "next") return all.find((other) => before(place, other)) ?? all.at(-1);
    if (what === "back") return all.findLast((other) => before(other, place)) ?? all[0];
    if (what === "first") return all[0];
    if (what === "last") return all.at(-1);
    return place;
  }

  /** A place that there is, nearest to what was asked for. */
  function within(stops, { stop, step }) {
    const number = Math.min(Math.max(Math.round(stop) || 1, 1), stops.length + 1);
    return { stop: number, step: Math.min(Math.max(Math.round(step) || 0, 0), stops[number - 1]?.steps ?? 0) };
  }

  // The address keeps all that a page loaded anew needs: #9 is the ninth question, #9.2 its second step, /20 the short talk.
  const written = ({ stop, step }, short) => `#${stop}${step ? `.${step}` : ""}${short ? "/20" : ""}`;

  function read(hash) {
    const [, stop, step, short] = hash.match(/^#(\d+)(?:\.(\d+))?(\/20)?$/) ?? [];
    return { place: { stop: Number(stop ?? 1), step: Number(step ?? 0) }, short: Boolean(short) };
  }

  // ---------------------------------------------------------------------------------------------------- keys
  const TYPING = 700; // ms in which a second digit belongs to the first
  // What a clicker sends belongs to the talk wherever the focus is; arrows, Home, End and the space bar belong to a slider, a
  // list or a button that was reached by the Tab key.
  const ALWAYS = { PageDown: "next", PageUp: "back", r: "restart", k: "keep", b: "blank", ".": "blank" };
  const UNLESS_HELD = { ArrowRight: "next", ArrowDown: "next", ArrowLeft: "back", ArrowUp: "back", " ": "next", Home: "first", End: "last" };

  function held(event) {
    const target = event.composedPath()[0];
    if (["button", "summary", "a"].includes(target.localName)) return event.key === " ";
    if (target.classList?.contains("sheet")) return event.key !== " ";  // the lines of a log, which scroll
    return ["input", "select"].includes(target.localName);
  }

  const writing = ({ localName, type }) => localName === "input" && type === "text";

  /** Hear the keys: `act(what)` for an action, `go(number)` for digits; `more` has this window's own keys. */
  function hear(act, go, highest, more = {}) {
    let typed = "";
    let typing = 0;
    function digit(key) {
      clearTimeout(typing);
      typed += key;
      const jump = () => {
        go(Number(typed));
        typed = "";
      };
      if (Number(typed) * 10 > highest) jump();
      else typing = setTimeout(jump, TYPING);
    }
    addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || (writing(event.composedPath()[0]) && !event.key.startsWith("Page"))) return;
      const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
      const what = ALWAYS[key] ?? more[key] ?? (held(event) ? null : UNLESS_HELD[key]);
      if (!what && !/^[0-9]$/.test(key)) return;
      event.preventDefault();
      event.stopPropagation();
      if (what) act(what);
      else digit(key);
    }, true);
    // A slider that was dragged lets go of the keys with the pointer, or the clicker's arrows would move it on.
    addEventListener("pointerup", ({ target }) => setTimeout(() => {
      const focused = target.shadowRoot?.activeElement;
      if (focused?.type === "range") focused.blur();
    }), true);
  }

  // --------------------------------------------------------------------------------------------- two panels as one
  const taking = new WeakSet(); // panels that do what the other window did, and must not tell it back

  const differs = (panel, values) => Object.entries(values).some(([symbol, value]) => JSON.stringify(panel.values[symbol]) !== JSON.stringify(value));
  const playButton = (panel) => panel.shadowRoot?.querySelector("button.play");
  const scrubber = (panel) => panel.shadowRoot?.querySelector("#scrub");
  const playing = (panel) => /pause/i.test(playButton(panel)?.textContent ?? "");

  /**
   * Tell what is done to `panel` here: tell({values}) for its sliders, tell({playing, at}) for its moving picture, tell({kept}) for a
   * run that is kept to compare: where its sliders stood, or null where it was let go.
   */
  function follow(panel, tell) {
    const own = (how) => (event) => !taking.has(panel) && how(event);
    const scene = () => tell({ playing: playing(panel), at: scrubber(panel).valueAsNumber });
    panel.addEventListener("coil-changed", own(({ detail }) => tell({ values: detail.values })));
    panel.addEventListener("coil-kept", own(({ detail }) => tell({ kept: detail.kept })));
    panel.addEventListener("click", own((event) => event.composedPath()[0].closest?.(".transport") && scene()));
    panel.addEventListener("input", own((event) => event.composedPath()[0] === scrubber(panel) && scene()));
  }

  /** Do to `panel` what was done to its twin. */
  function take(panel, what) {
    if (panel?.dataset.state !== "live") return;
    taking.add(panel);
    if (what.values && differs(panel, what.values)) panel.set(what.values);
    if ("kept" in what) panel.compareWith(what.kept);
    if ("playing" in what && scrubber(panel)) {
      scrubber(panel).valueAsNumber = what.at;
      scrubber(panel).dispatchEvent(new Event("input")); // which stops it, too
      if (what.playing !== playing(panel)) playButton(panel).click();
    }
    taking.delete(panel);
  }

  // What a compact panel in either window does without: a jump where there is no room, and Listen where nothing is to be heard.
  const TIDY = `
    .compact > .figures, .compact > .worked { min-height: 7rem; }
    :host(.pair) .jump, :host(:not(.heard)) .listen { display: none; }
    .listen { order: 9; }
  `;

  globalThis.coilTalk = { moved, within, written, read, same, hear, follow, take, differs, TIDY };
})();
