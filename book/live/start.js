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
