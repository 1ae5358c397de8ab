// The projected page: one stop at a time, driven by keys, by a clicker, by the address (#7) and by the presenter's window.
// A plain script, so that it also runs in a page opened by a double click.
(() => {
  const stops = [...document.querySelectorAll(".stop")];
  const blank = document.querySelector(".blank");
  const note = document.querySelector(".note");
  const TYPING = 700; // ms in which a second digit belongs to the first
  let now = 0;
  let typed = "";
  let typing = 0;
  let presenter = null; // the presenter's window, once it has said that it is there

  const panelOf = (number) => stops[number - 1]?.querySelector("coil-panel");

  function go(number) {
    const wanted = Math.min(Math.max(Math.round(number) || 1, 1), stops.length);
    blank.hidden = true;
    if (wanted !== now) {
      now = wanted;
      stops.forEach((stop, index) => (stop.hidden = index !== now - 1));
      document.title = `${now} ${stops[now - 1].dataset.title}`;
      if (location.hash !== `#${now}`) history.replaceState(null, "", `#${now}`);
    }
    tell();
  }

  // The other stops' panels start one after another, those to come first, whenever nobody has moved a slider for a while: a
  // map takes the one worker some seconds, and no stop should begin with waiting, nor a drag wait for a stop to come.
  const QUIET = 3000; // ms
  let moved = 0;
  addEventListener("coil-changed", () => (moved = Date.now()));

  const begun = (panel) => ["live", "error"].includes(panel.dataset.state);

  function prepare() {
    const order = stops.map((_, index) => panelOf(((now - 1 + index) % stops.length) + 1));
    const next = order.find((panel) => !begun(panel));
    if (!next) return clearInterval(preparing);
    const here = order[0];
    if (next === here || order.some((panel) => panel.dataset.state === "waiting") || Date.now() - moved < QUIET) return;
    next.begin?.();
  }
  const preparing = setInterval(prepare, 250);

  function restart() {
    panelOf(now).restart?.();
  }

  function tell() {
    presenter?.postMessage({ coilTalk: "state", stop: now, blank: !blank.hidden }, "*");
  }

  function say(sentence) {
    note.textContent = sentence;
    note.hidden = false;
    setTimeout(() => (note.hidden = true), 8000);
  }

  // No window may be opened but at a key or a click. It says "hello" when it is there, and again and again, so that either
  // window may be loaded anew.
  function openPresenter() {
    const opened = window.open("presenter.html", "coil-talk-presenter", "popup,width=900,height=700");
    if (!opened) say("The browser did not open the presenter's window: allow this page to open windows, then press P again.");
  }

  addEventListener("message", ({ data, source }) => {
    if (!data?.coilTalk || source === window) return;
    presenter = source;
    if (data.coilTalk === "hello") tell();
    else act(data.coilTalk, data.stop);
  });

  function act(what, number) {
    if (what === "go") go(number);
    else if (what === "next") go(now + 1);
    else if (what === "back") go(now - 1);
    else if (what === "first") go(1);
    else if (what === "last") go(stops.length);
    else if (what === "restart") restart();
    else if (what === "blank") {
      blank.hidden = !blank.hidden;
      tell();
    } else if (what === "presenter") openPresenter();
    else if (what === "full") document.fullscreenElement ? document.exitFullscreen() : document.documentElement.requestFullscreen?.();
  }

  function digit(key) {
    clearTimeout(typing);
    typed += key;
    const jump = () => {
      go(Number(typed));
      typed = "";
    };
    if (Number(typed) * 10 > stops.length) jump();
    else typing = setTimeout(jump, TYPING);
  }

  // What a clicker sends belongs to the talk wherever the focus is; arrows, Home, End and the space bar belong to a slider, a
  // list or a button that was reached by the Tab key.
  const ALWAYS = { PageDown: "next", PageUp: "back", r: "restart", b: "blank", ".": "blank", p: "presenter", f: "full" };
  const UNLESS_HELD = { ArrowRight: "next", ArrowDown: "next", ArrowLeft: "back", ArrowUp: "back", " ": "next", Home: "first", End: "last" };

  function held(event) {
    const target = event.composedPath()[0];
    if (target.localName === "button") return event.key === " ";
    return ["input", "select"].includes(target.localName);
  }

  addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const what = ALWAYS[key] ?? (held(event) ? null : UNLESS_HELD[key]);
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

  addEventListener("hashchange", () => go(Number(location.hash.slice(1))));
  go(Number(location.hash.slice(1)));
})();
