// A plain script on every page, so that it also runs on a page opened by a double click, where a browser lets
// no module load. Where there is a panel, an exercise or a progress list it brings it to life. From a server it loads page.js,
// which finds its parts beside it, and on every page offline.js, which has the book kept in the browser. From a double click the
// page may fetch nothing, so a script (carried.js) brings all the parts, gzipped and as text, and page.js is run out of it.
// Where all live things of a page say data-start="press" (the start page, which is to be light) page.js waits for the first touch; from
// a double click, where the parts come in one piece, a press of a button is waited for.
(() => {
  const here = document.currentScript.src;
  const beside = (name) => new URL(name, here).href;
  const served = location.protocol !== "file:";
  if (served) import(beside("offline.js")).catch(() => {}); // without it the page is a page like any other
  // Paper cannot be unfolded: it shows the arithmetic, and the screen is folded again afterwards.
  let folded = [];
  addEventListener("beforeprint", () => {
    folded = [...document.querySelectorAll("details.fold:not([open])")];
    for (const details of folded) details.open = true;
  });
  addEventListener("afterprint", () => folded.splice(0).forEach((details) => (details.open = false)));

  // The note of a word of the trade opens at a press by itself; here under a resting mouse too, which may then go on into the note.
  for (const word of document.querySelectorAll("button.word")) {
    const note = word.popoverTargetElement;
    if (!note) continue; // a browser without popovers
    let wait = 0;
    let rested = false; // opened by the mouse's rest: goes with the mouse, unless it is pressed
    const open = () => note.matches(":popover-open");
    for (const node of [word, note]) {
      const soon = (act) => (event) => {
        clearTimeout(wait);
        if (event.pointerType === "mouse") wait = setTimeout(act, 300);
      };
      node.addEventListener("pointerenter", soon(() => {
        if (open()) return;
        rested = true;
        note.showPopover({ source: word });
      }));
      node.addEventListener("pointerleave", soon(() => rested && open() && note.hidePopover()));
    }
    word.addEventListener("click", (event) => {
      clearTimeout(wait);
      if (rested && open()) event.preventDefault();
      rested = false;
    });
    note.addEventListener("beforetoggle", (event) => {
      if (event.newState === "closed") rested = false;
      else note.classList.toggle("over", word.getBoundingClientRect().top > innerHeight / 2);
    });
  }
  // Escape closes a note wherever the keyboard is: the book tool's own scripts take that key away from the browser.
  addEventListener("keydown", (event) => {
    const notes = event.key === "Escape" ? document.querySelectorAll(".word-note") : [];
    for (const note of notes) note.hidePopover?.();
  }, true);

  const all = [...document.querySelectorAll("coil-panel, coil-exercise, coil-progress, coil-sheet")];
  if (!all.length) return;
  const live = all[0];

  const say = (sentence) => {
    const line = document.createElement("div");
    line.className = "coil-line";
    line.setAttribute("role", "status");
    line.textContent = sentence;
    live.before(line);
    return line;
  };

  async function unpacked(text) {
    const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
    const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
    return new Response(stream).arrayBuffer();
  }

  async function fromCarried(parts) {
    const names = Object.keys(parts);
    const unpackedParts = await Promise.all(names.map((name) => unpacked(parts[name])));
    const bytes = Object.fromEntries(names.map((name, index) => [name, unpackedParts[index]]));
    const module = (name) => `data:text/javascript;charset=utf-8,${encodeURIComponent(new TextDecoder().decode(bytes[name]))}`;
    globalThis.coilFiles = { bytes, module };
    await import(module("page.js"));
  }

  function fetchParts() {
    import(beside("page.js")).catch((error) => say(`The live part of this page could not be fetched (${error.message}); load the page again.`));
  }

  function unpackParts() {
    const line = say("Unpacking the live model …");
    const forbidden = () => {
      line.textContent =
        "This browser does not run the model in a page opened by a double click: start any server of files in this folder (python3 -m http.server) and open it from there.";
    };
    const script = document.createElement("script");
    script.src = beside("carried.js");
    script.onerror = forbidden;
    globalThis.coilCarried = (parts) => fromCarried(parts).then(() => line.remove(), forbidden);
    document.head.append(script);
  }

  // A button that starts the model and goes; page.js too shows it, where it has nothing else to answer a touch with.
  globalThis.coilButton = (begin) => {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "coil-start";
    button.textContent = "Start the live model";
    button.onclick = () => {
      button.remove();
      live.tabIndex = -1;
      live.focus(); // the button is gone, and with it where a keyboard was
      begin();
    };
    return button;
  };

  const light = all.every((element) => element.dataset.start === "press");
  if (served && light) import(beside("page.js")).catch(() => live.before(globalThis.coilButton(fetchParts))); // no network, perhaps
  else if (served) fetchParts();
  else if (light) live.before(globalThis.coilButton(unpackParts));
  else unpackParts();
})();
