// The projected page: one stop at a time, its question first and then one step at a key; driven by keys, by a clicker, by the
// address (#7) and by the presenter's window. A plain script, so that it also runs in a page opened by a double click.
(() => {
  const { moved, within, written, read, same, hear, follow, take, differs, TIDY } = globalThis.coilTalk;
  const stops = JSON.parse(document.getElementById("stops").textContent);
  const sections = [...document.querySelectorAll(".stop")]; // one for each stop, and the closing words
  const blank = document.querySelector(".blank");
  const note = document.querySelector(".note");
  const ADDRESS = "vibrating-coil-talk/address";
  const page = Math.random(); // a page loaded anew is another one
  let place = { stop: 0, step: 0 };
  let short = false;
  let presenter = window.opener; // the presenter's window, where that opened this one, or once it has said that it is there

  const panelOf = (number) => sections[number - 1]?.querySelector("coil-panel");

  // --------------------------------------------------------------------------------------------- where we are
  function go(wanted, restart = false) {
    const to = within(stops, wanted);
    blank.hidden = true;
    if (!same(to, place)) {
      const arrived = to.stop !== place.stop;
      const opened = !arrived && place.step === 0 && to.step === 1; // from the question to the first step
      place = to;
      sections.forEach((section, index) => (section.hidden = index !== place.stop - 1));
      const section = sections[place.stop - 1];
      section.classList.toggle("asking", place.step === 0);
      document.title = `${place.stop} ${section.dataset.title}`;
      // There the sliders stay: the presenter may have moved them beforehand.
      if (arrived) panelOf(place.stop)?.comparison?.letGo(); // a stop begins as it was planned
      if (!opened || restart) settle();
    }
    keepAddress();
    tell();
  }

  function keepAddress() {
    if (location.hash !== written(place, short)) history.replaceState(null, "", written(place, short));
  }

  /** Put the sliders where this step wants them; the question wants those of the first step, ready behind it. */
  function settle() {
    const panel = panelOf(place.stop);
    const values = stops[place.stop - 1]?.values[Math.max(place.step, 1) - 1];
    if (panel?.dataset.state !== "live" || !values || !differs(panel, values)) return;
    panel.set(values);
  }

  function act(what) {
    const panel = panelOf(place.stop);
    if (what === "restart") {
      panel?.comparison?.letGo();
      settle();
    } else if (what === "keep") panel?.compare?.();
    else if (what === "presenter") openPresenter();
    else if (what === "full") document.fullscreenElement ? document.exitFullscreen() : document.documentElement.requestFullscreen?.();
    else if (what === "blank") {
      blank.hidden = !blank.hidden;
      tell();
    } else go(moved(stops, short, place, what));
  }

  // ------------------------------------------------------------------------------------------- the panels' answers
  // Two windows show the same panel at the same sliders: each picture is computed once, and the last ones are kept, so that
  // going back and the presenter's preview cost nothing.
  const KEPT = 40;
  const answers = new Map();

  function ask(request) {
    const key = JSON.stringify(request);
    const answer = answers.get(key) ?? engine().then((host) => host.ask(request));
    answers.delete(key);
    answers.set(key, answer); // the newest last
    if (answers.size > KEPT) answers.delete(answers.keys().next().value);
    return answer;
  }

  /** The page's engine, once its script has made it. */
  async function engine() {
    while (!globalThis.coilHost) await new Promise((resolve) => setTimeout(resolve, 50));
    return globalThis.coilHost;
  }

  customElements.whenDefined("coil-panel").then(() => {
    for (const [index, stop] of stops.entries()) {
      const panel = panelOf(index + 1);
      panel.ask = ask;
      follow(panel, (what) => tellOf(index + 1, what));
      panel.addEventListener("coil-painted", () => place.stop === index + 1 && settle(), { once: true });
    }
  });

  // ------------------------------------------------------------------------------------------------ the lettering
  // What is read from the back row: nothing on the screen is smaller than this page's smallest type (see talk.css). A drawing is
  // enlarged or reduced to its place, its letters with it; they are set so that they come out right.
  const LETTERS = new CSSStyleSheet();
  const NAMED = 3; // px between the name of an axis and its numbers
  LETTERS.replaceSync(`
    ${TIDY}
    .compact { font-size: 1rem; }
    .compact .sentence { font-size: 0.85rem; margin: 0 0 0.15rem; line-height: 1.25; }
    .compact :is(.readings dt, .control label, .control .output, .control output, select, button, .transport *, figcaption, .count, .log) { font-size: 0.8rem; }
    .compact .readings { margin: 0.1rem 0 0; }
    .compact .readings dd { font-size: 0.9rem; }
    .compact :is(.state, .scene figcaption > .soft, .scene figcaption > strong) { display: none; }
    .compact svg { overflow: visible; }
    .compact svg text { font-size: var(--letters, 12px); }
  `);

  function letter(panel) {
    const least = 0.8 * parseFloat(getComputedStyle(document.documentElement).fontSize);
    for (const svg of panel.shadowRoot.querySelectorAll("figure > svg")) {
      const enlarged = svg.getScreenCTM()?.a;
      if (!enlarged) continue;
      const size = Math.max(12, least / enlarged);
      const wide = svg.getBoundingClientRect().width / enlarged, high = svg.getBoundingClientRect().height / enlarged;
      svg.style.setProperty("--letters", `${size}px`);
      for (const text of svg.querySelectorAll("text")) {
        text.querySelectorAll("tspan").forEach((line, index, [first]) => index && line.setAttribute("y", Number(first.getAttribute("y")) + index * size));
        const across = text.getAttribute("transform") ? high : wide; // what is turned runs along the height
        text.removeAttribute("textLength");
        if (text.getComputedTextLength() <= across || text.querySelector("tspan + tspan")) continue;
        text.setAttribute("textLength", across); // a long name of an axis is drawn narrower
        text.setAttribute("lengthAdjust", "spacingAndGlyphs");
      }
      for (const name of svg.querySelectorAll("[transform*='rotate(-90)']")) clear(name, svg, enlarged);
    }
  }

  // The name of an axis that runs upward stands left of its numbers, which the larger letters have made wider.
  function clear(name, svg, enlarged) {
    name.style.translate = "";
    const box = name.getBoundingClientRect();
    const numbers = [...svg.querySelectorAll("text[text-anchor=end]")].map((text) => text.getBoundingClientRect());
    const beside = numbers.filter(({ top, bottom, left }) => bottom > box.top && top < box.bottom && left < box.right + NAMED);
    const over = Math.max(0, ...beside.map(({ left }) => box.right + NAMED - left));
    const room = Math.max(0, box.left - svg.closest("figure").getBoundingClientRect().left);
    if (over) name.style.translate = `${-Math.min(over, room) / enlarged}px`;
  }

  customElements.whenDefined("coil-panel").then(() => {
    const resized = new ResizeObserver((entries) => entries.forEach(({ target }) => requestAnimationFrame(() => letter(target))));
    for (const panel of document.querySelectorAll("coil-panel")) {
      panel.shadowRoot.adoptedStyleSheets.push(LETTERS);
      resized.observe(panel);
      panel.addEventListener("coil-painted", () => letter(panel));
    }
  });

  // The other stops' panels start one after another, those to come first, whenever nobody has moved a slider for a while: a
  // map takes the one worker some seconds, and no stop should begin with waiting, nor a drag wait for a stop to come.
  const QUIET = 3000; // ms
  let touched = 0;
  addEventListener("coil-changed", () => (touched = Date.now()));

  const begun = (panel) => ["live", "error"].includes(panel.dataset.state);

  function prepare() {
    const order = stops.map((_, index) => panelOf(((place.stop - 1 + index) % stops.length) + 1));
    const next = order.find((panel) => !begun(panel));
    if (!next) return clearInterval(preparing);
    const here = order[0];
    if (next === here || order.some((panel) => panel.dataset.state === "waiting") || Date.now() - touched < QUIET) return;
    next.begin?.();
  }
  const preparing = setInterval(prepare, 250);

  // --------------------------------------------------------------------------------------- the presenter's window
  const send = (message) => presenter?.postMessage(message, "*");

  function tell() {
    send({ coilTalk: "state", page, place, short, blank: !blank.hidden, face: face(), address: address() });
  }

  function tellOf(stop, what) {
    send({ coilTalk: "panel", stop, what });
  }

  /** The address of the face, from which the presenter's window makes its preview; nothing before the live part is there. */
  function face() {
    if (location.protocol === "file:") return globalThis.coilFiles?.module("face.js") ?? null;
    return new URL("face.js", document.querySelector("script[src$='start.js']").src).href;
  }

  function say(sentence) {
    note.textContent = sentence;
    note.hidden = false;
    setTimeout(() => (note.hidden = true), 8000);
  }

  // No window may be opened but at a key or a click. It says "hello" when it is there, and again and again, so that either
  // window may be loaded anew.
  function openPresenter() {
    const opened = window.open(`presenter.html${written(place, short)}`, "coil-talk-presenter", "popup,width=1180,height=720");
    if (!opened) say("The browser did not open the presenter's window: allow this page to open windows, then press P again.");
  }

  addEventListener("message", async ({ data, source }) => {
    if (!data?.coilTalk || source === window) return;
    presenter = source;
    if (data.coilTalk === "hello") tell();
    else if (data.coilTalk === "act") act(data.what);
    else if (data.coilTalk === "go") go(data.place);
    else if (data.coilTalk === "panel") take(panelOf(data.stop), data.what);
    else if (data.coilTalk === "ask") send({ coilTalk: "reply", id: data.id, reply: await ask(data.request) });
    else if (data.coilTalk === "short") {
      short = data.short;
      keepAddress();
      tell();
    } else if (data.coilTalk === "address") {
      keep(data.address);
      showAddress();
    } else if (data.coilTalk === "values") {
      const panel = panelOf(data.stop);
      if (panel?.dataset.state === "live") tellOf(data.stop, { values: { ...panel.values }, kept: panel.comparison.run?.values ?? null });
    }
  });

  // ------------------------------------------------------------------------------------------- where to go on
  let given = null; // where the browser keeps nothing

  function keep(text) {
    given = text;
    try {
      localStorage.setItem(ADDRESS, text);
    } catch {
      // then it is kept as long as the page is
    }
  }

  /** What the presenter gave; else where this page is served from, unless that is this machine alone; else nothing. */
  function address() {
    let kept = given;
    try {
      kept ??= localStorage.getItem(ADDRESS);
    } catch {
      // nothing is kept
    }
    const own = ["localhost", "127.0.0.1", "[::1]", ""].includes(location.hostname) ? "" : new URL("../", location.href).href;
    return kept || own;
  }

  function showAddress() {
    const line = document.querySelector(".address");
    line.textContent = address() || line.dataset.without;
  }

  hear(act, (number) => go({ stop: number, step: 0 }), stops.length, { p: "presenter", f: "full" });
  addEventListener("hashchange", begin);

  function begin() {
    const wanted = read(location.hash);
    short = wanted.short;
    go(wanted.place);
  }
  showAddress();
  begin();
})();
