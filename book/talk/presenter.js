// The presenter's window: what to say, what comes next, the clock, and the panel with its sliders. It follows the projected page
// and drives it. The two talk by messages to each other's window: that works from a server and from a double click alike.
(() => {
  const { moved, within, written, read, same, hear, follow, take, TIDY } = globalThis.coilTalk;
  const { stops, closing, goingOn, withoutAddress } = JSON.parse(document.getElementById("stops").textContent);
  const counted = stops.map((stop) => ({ steps: stop.steps.length, short: stop.short })); // as the places want them
  const at = (id) => document.getElementById(id);
  const element = (tag, look, text) => Object.assign(document.createElement(tag), { className: look, textContent: text });
  const KEPT = "vibrating-coil-talk/clock";
  const PATIENCE = 3500; // ms without an answer after which the projected page counts as shut
  let { place, short } = read(location.hash);
  place = within(counted, place);
  let room = window.opener; // the projected page: the one that opened this window, or one that this window opened
  let page = null; // which loading of it
  let heard = 0; // when it last answered
  let blank = false;

  const send = (message) => room?.postMessage(message, "*");
  const apart = () => !room || room.closed || Date.now() - heard > PATIENCE;

  // ------------------------------------------------------------------------------------------------- the clock
  let clock = kept(); // {begun, stop: where it began, at: the stop we are at, came: since when}; begun is null before it runs

  function kept() {
    try {
      return JSON.parse(localStorage.getItem(KEPT)) ?? { begun: null };
    } catch {
      return { begun: null };
    }
  }

  function keep() {
    try {
      localStorage.setItem(KEPT, JSON.stringify(clock));
    } catch {
      // then it is kept as long as this window is
    }
  }

  function begin() {
    const now = Date.now();
    clock = { begun: now, stop: place.stop, at: place.stop, came: now };
    keep();
    show();
  }

  const minutes = (stop) => (short ? stop.short : stop.long);
  const planned = (from, to) => stops.slice(from - 1, to - 1).reduce((sum, stop) => sum + minutes(stop), 0);

  function minuteText(ms) {
    const seconds = Math.round(Math.abs(ms) / 1000);
    return `${ms < 0 ? "\u2212" : ""}${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
  }

  const hour = (time) => new Date(time).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });

  function tick() {
    const now = Date.now(), { begun } = clock, stop = stops[place.stop - 1];
    const from = begun ? clock.stop : place.stop;
    const whole = 60_000 * planned(from, stops.length + 1), gone = begun ? now - begun : 0;
    at("left").textContent = minuteText(whole - gone);
    at("left").classList.toggle("late", gone > whole);
    const allowed = stop ? 60_000 * minutes(stop) : 0, here = begun ? now - clock.came : 0;
    at("here").textContent = stop ? `${minuteText(here)} of ${minuteText(allowed)}` : "\u2013";
    // By the plan this stop goes from `due` on for its minutes; inside them nobody is late.
    const due = begun ? 60_000 * planned(clock.stop, place.stop) : 0;
    const late = Math.max(gone - due - allowed, 0) || Math.min(gone - due, 0);
    const off = Math.abs(late) >= 30_000;
    at("plan").textContent = !begun ? "not begun" : !off ? "on time" : `${minuteText(Math.abs(late))} ${late > 0 ? "late" : "early"}`;
    at("plan").classList.toggle("late", off && late > 0);
    // What is left by the plan, from here on: the rest of this stop, and all that follow.
    const rest = Math.max(allowed - here, 0) + 60_000 * planned(place.stop + 1, stops.length + 1);
    at("ends").textContent = hour(now + rest);
    at("time").textContent = hour(now);
    at("begin").textContent = begun ? "Clock anew" : "Begin the clock";
    at("begin").title = begun ? `It runs since ${hour(begun)}` : "";
    const shut = apart();
    if (shut !== document.body.classList.contains("shut")) {
      document.body.classList.toggle("shut", shut);
      show();
    }
  }

  // ------------------------------------------------------------------------------------------------ the words
  const step = (of) => of.steps[place.step - 1];

  /** One thing to say: its name, the words, and what to do with the hands. */
  function block(name, texts, doing, current) {
    const made = element("section", current ? "said now" : "said", "");
    if (current) made.setAttribute("aria-current", "step");
    made.append(element("h2", "", name), ...texts.filter(Boolean).map((text) => element("p", "line", text)));
    if (doing) made.append(element("p", "doing", doing));
    return made;
  }

  function show() {
    const stop = stops[place.stop - 1];
    at("title").textContent = stop ? `${place.stop} of ${stops.length}: ${stop.title}` : "The end";
    document.title = `Presenter: ${stop ? `${place.stop} of ${stops.length}` : "the end"}`;
    const blocks = stop
      ? [block("Ask", [stop.lead, stop.ask], "Let the room guess; then go on.", place.step === 0),
         ...stop.steps.map((one, index) => block(one.label, [one.say, short ? "" : one.more], one.do, place.step === index + 1))]
      : [block("Last words", [closing, goingOn], `On the screen: ${at("address").value || withoutAddress} The answer sheet goes round now.`, true)];
    if (stop?.objections.length) {
      const asked = element("section", "objections", "");
      asked.append(element("h2", "", "If somebody says"), ...stop.objections.flatMap((one) => [element("p", "says", `\u201c${one.says}\u201d`), element("p", "line", one.answer)]));
      blocks.push(asked);
    }
    at("words").replaceChildren(...blocks);
    at("words").querySelector(".now").scrollIntoView({ block: "nearest" });
    const next = moved(counted, short, place, "next"), then = stops[next.stop - 1];
    at("next").textContent = same(next, place) ? "Nothing more: that was the talk."
      : next.stop === place.stop ? then.steps[next.step - 1].label
      : then ? `The question of stop ${next.stop}: ${then.ask}` : "The closing words and the address";
    at("seen").textContent = blank ? "The room sees a blank screen; B brings the picture back."
      : !stop ? "The room sees the closing words." : place.step === 0 ? "The room sees the question alone; this comes at the next key." : "The room sees this.";
    at("apart").hidden = !apart();
    at("minutes").value = short ? "short" : "long";
    outline();
    showPanel();
    tick();
  }

  /** All stops with their minutes, and the time at which each should begin. */
  function outline() {
    const from = clock.begun ?? Date.now(), first = clock.begun ? clock.stop : 1;
    at("outline").replaceChildren(...stops.map((stop, index) => {
      const number = index + 1, item = element("li", number === place.stop ? "here" : "", "");
      const button = element("button", "quiet", `${number}. ${stop.title}`);
      button.type = "button";
      if (number === place.stop) button.setAttribute("aria-current", "true");
      button.onclick = () => go({ stop: number, step: 0 });
      const when = !minutes(stop) ? "passed by" : `${minutes(stop)} min, ${number < first ? "before the clock began" : hour(from + 60_000 * planned(first, number))}`;
      item.append(button, element("span", "soft", when));
      return item;
    }));
  }

  // ------------------------------------------------------------------------------------------------ the preview
  // The same panel as on the projected page, with its sliders and its Play. The face comes from there, and so does every picture:
  // there is one engine, and what is drawn twice is computed once.
  const panels = new Map(); // stop -> its panel
  const waiting = new Map(); // id -> {request, resolve}: questions that the projected page has not answered yet
  const tidy = new CSSStyleSheet();
  tidy.replaceSync(TIDY);
  let asked = 0;
  let fetching = false;
  let face = null; // its module, once that is here

  function ask(request) {
    const id = (asked += 1);
    send({ coilTalk: "ask", id, request });
    return new Promise((resolve) => waiting.set(id, { request, resolve }));
  }

  async function fetchFace(address) {
    if (fetching || !address) return;
    fetching = true;
    try {
      face = await import(address);
      face.connect(ask);
      showPanel();
    } catch (error) {
      fetching = false;
      at("seen").textContent = `The preview could not be made (${error.message}); the projected page is driven from here all the same.`;
    }
  }

  function showPanel() {
    const stop = stops[place.stop - 1];
    if (face && stop && !panels.has(place.stop)) {
      const panel = document.createElement("coil-panel"), number = place.stop;
      for (const [name, value] of Object.entries(stop.panel)) panel.setAttribute(name, value);
      panels.set(number, panel);
      follow(panel, (what) => send({ coilTalk: "panel", stop: number, what }));
      panel.addEventListener("coil-painted", () => send({ coilTalk: "values", stop: number }), { once: true }); // as it stands there by now
      at("preview").append(panel);
      panel.shadowRoot.adoptedStyleSheets.push(tidy);
    }
    for (const [number, panel] of panels) panel.hidden = number !== place.stop;
    at("preview").inert = apart();
    at("preview").hidden = !stop;
  }

  // ------------------------------------------------------------------------------------------- the projected page
  function came(to, moving) {
    if (same(to, place)) return;
    const forward = moving && (to.stop > place.stop || (to.stop === place.stop && to.step > place.step));
    if (to.stop !== place.stop) {
      clock = { ...clock, at: to.stop, came: Date.now() };
      keep();
    }
    place = to;
    history.replaceState(null, "", written(place, short));
    if (!clock.begun && forward) begin(); // nobody pressed Begin: count from here on
  }

  addEventListener("message", ({ data, source }) => {
    if (!data?.coilTalk || source === window || (source !== room && !apart())) return;
    room = source;
    if (data.coilTalk === "panel") take(panels.get(data.stop), data.what);
    else if (data.coilTalk === "reply") {
      waiting.get(data.id)?.resolve(data.reply);
      waiting.delete(data.id);
    } else if (data.coilTalk === "state") {
      const anew = data.page !== page, changed = anew || apart() || data.short !== short || data.blank !== blank || !same(data.place, place);
      heard = Date.now();
      if (anew) for (const [id, { request }] of waiting) send({ coilTalk: "ask", id, request });
      short = data.short;
      blank = data.blank;
      came(data.place, !anew && page !== null);
      page = data.page;
      if (at("address") !== document.activeElement) at("address").value = data.address;
      fetchFace(data.face);
      if (changed) show();
    }
  });

  /** The projected page moves, and this window with it; where it is shut, this window moves by itself. */
  function go(to) {
    if (!apart()) return send({ coilTalk: "go", place: to });
    came(within(counted, to), true);
    show();
  }

  function act(what) {
    if (!apart()) return send({ coilTalk: "act", what });
    go(moved(counted, short, place, what));
  }

  for (const button of document.querySelectorAll("button[data-do]")) button.onclick = () => act(button.dataset.do);
  at("begin").onclick = begin;
  at("open").onclick = () => {
    room = window.open(`index.html${written(place, short)}`, "coil-talk-room");
    if (!room) at("seen").textContent = "The browser did not open it: allow this page to open windows, then press again.";
  };
  at("minutes").onchange = ({ target }) => {
    short = target.value === "short";
    history.replaceState(null, "", written(place, short));
    send({ coilTalk: "short", short });
    show();
    target.blur(); // the page keys are wanted again
  };
  at("address").onchange = ({ target }) => send({ coilTalk: "address", address: target.value.trim() });
  hear(act, (number) => go({ stop: number, step: 0 }), stops.length);

  if (clock.begun && clock.at !== place.stop) clock = { ...clock, at: place.stop, came: Date.now() };
  show();
  send({ coilTalk: "hello" });
  setInterval(() => {
    send({ coilTalk: "hello" });
    tick();
  }, 1000);
})();
