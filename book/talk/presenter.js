// The presenter's window: the line to say, what comes next, the clock. It follows the projected page and drives it.
// The two talk by messages to each other's window: that works from a server and from a double click alike.
(() => {
  const stops = JSON.parse(document.getElementById("stops").textContent);
  const at = (id) => document.getElementById(id);
  const KEPT = "vibrating-coil-talk/begun";
  let now = 1;
  let heard = 0; // when the projected page last answered
  let begun = kept(); // when the talk began, and at which stop: {time, stop}
  let came = Date.now(); // when this stop came up

  function kept() {
    try {
      return JSON.parse(sessionStorage.getItem(KEPT)); // so that this window may be loaded anew
    } catch {
      return null;
    }
  }

  function begin() {
    begun = { time: Date.now(), stop: now };
    came = begun.time;
    try {
      sessionStorage.setItem(KEPT, JSON.stringify(begun));
    } catch {
      // then it is kept as long as the window is
    }
    tick();
  }

  const planned = (from, to) => stops.slice(from - 1, to - 1).reduce((sum, stop) => sum + stop.minutes, 0);

  function clock(ms) {
    const seconds = Math.round(Math.abs(ms) / 1000);
    return `${ms < 0 ? "\u2212" : ""}${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
  }

  function tick() {
    const time = Date.now();
    at("time").textContent = new Date(time).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
    const stop = stops[now - 1];
    const here = time - came;
    at("here").textContent = begun ? `${clock(here)} of ${stop.minutes}:00` : `${stop.minutes}:00`;
    const budget = 60_000 * planned(begun?.stop ?? now, stops.length + 1);
    const left = budget - (begun ? time - begun.time : 0);
    at("left").textContent = clock(left);
    at("left").classList.toggle("late", left < 0);
    const elapsed = begun ? time - begun.time : 0;
    const due = begun ? 60_000 * planned(begun.stop, now) : 0; // by the plan this stop goes from here on for its minutes
    const late = Math.max(elapsed - due - 60_000 * stop.minutes, 0) || Math.min(elapsed - due, 0);
    at("plan").textContent = !begun ? "not begun" : Math.abs(late) < 30_000 ? "on time" : late > 0 ? `${clock(late)} late` : `${clock(-late)} early`;
    at("plan").classList.toggle("late", late >= 30_000);
    at("begin").textContent = begun ? "Begin the clock again" : "Begin the clock";
    at("apart").hidden = time - heard < 3500;
  }

  function show() {
    const stop = stops[now - 1];
    const next = stops[now];
    at("title").textContent = `${now} of ${stops.length}: ${stop.title}`;
    for (const name of ["ask", "line", "do"]) at(name).textContent = stop[name];
    at("next").textContent = next ? `${now + 1}: ${next.title}${next.title.endsWith("?") ? "" : "."} ${next.ask}` : "That was the last one. The handout has the questions; the answer sheet goes round at the end.";
    document.title = `Presenter: ${now} of ${stops.length}`;
    tick();
  }

  addEventListener("message", ({ data, source }) => {
    if (data?.coilTalk !== "state" || source !== opener) return;
    const moved = heard > 0; // the first answer only says where the page stands
    heard = Date.now();
    at("blanked").hidden = !data.blank;
    if (data.stop !== now) {
      const forward = moved && data.stop > now;
      now = data.stop;
      came = Date.now();
      if (!begun && forward) begin(); // nobody pressed Begin: count from here on
      show();
    }
    tick();
  });

  const send = (what, more = {}) => opener?.postMessage({ coilTalk: what, ...more }, "*");
  for (const button of document.querySelectorAll("button[data-do]")) button.onclick = () => send(button.dataset.do);
  at("begin").onclick = begin;

  const KEYS = { PageDown: "next", PageUp: "back", ArrowRight: "next", ArrowDown: "next", ArrowLeft: "back", ArrowUp: "back", Home: "first", End: "last", r: "restart", b: "blank", ".": "blank" };
  addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const what = KEYS[key] ?? (key === " " && event.target.localName !== "button" ? "next" : null);
    if (!what) return;
    event.preventDefault();
    send(what);
  });

  show();
  send("hello");
  setInterval(() => {
    send("hello");
    tick();
  }, 1000);
})();
