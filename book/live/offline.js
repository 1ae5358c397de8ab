// Loaded by start.js on every page that came from a server: makes the book something to install, and has it kept in the browser
// for use without a network. First the pages, some 6 MB; the live model with them once a page is alive, for then the browser has
// fetched it already. Whatever fails here is said on the page about it ("Using this book without a network") and nowhere else.

const ROOT = new URL("../../../", import.meta.url);
const PAUSE = 2000; // ms after the page was loaded
const LONGEST_START = 30_000;

const box = () => document.querySelector(".coil-offline"); // on that page

function head(rel, name) {
  const link = document.createElement("link");
  Object.assign(link, { rel, href: new URL(name, ROOT).href });
  document.head.append(link);
}

const megabytes = (bytes) => `${(bytes / 1e6).toFixed(1)} MB`;

function say(sentence) {
  const line = document.createElement("p");
  line.setAttribute("role", "status");
  line.textContent = sentence;
  box()?.replaceChildren(line);
}

function offer(words) {
  const button = document.createElement("button");
  Object.assign(button, { type: "button", textContent: words, onclick: wholeBook });
  box()?.append(button);
}

const refused = (error) => say(`This browser keeps nothing of this book (${error.message}).`);

function report({ reading, live, failed }) {
  const part = (name, { kept, of }) => (kept === of ? `${name}: kept (${megabytes(of)})` : `${name}: ${megabytes(kept)} of ${megabytes(of)} kept`);
  const whole = reading.kept === reading.of && live.kept === live.of;
  const end = failed ? ` The rest could not be kept: ${failed}.` : whole ? " This book now works without a network." : "";
  say(`${part("Pages", reading)}. ${part("Live model", live)}.${end}`);
  if (!whole) offer(`Keep the whole book now (${megabytes(reading.of + live.of)})`);
}

async function register() {
  const registration = await navigator.serviceWorker.register(new URL("service-worker.js", ROOT), { scope: ROOT.href });
  const coming = registration.installing;
  if (!coming || registration.active) return;
  say("Keeping the pages …");
  coming.addEventListener("statechange", () => {
    if (coming.state === "redundant") say("The pages could not all be kept: the network failed, or this browser's storage is full. The next visit tries again.");
  });
}

async function ask(question) {
  const { active } = await navigator.serviceWorker.ready;
  return new Promise((resolve) => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = ({ data }) => resolve(data);
    active.postMessage(question, [port2]);
  });
}

async function wholeBook() {
  say("Keeping the whole book …");
  navigator.storage?.persist?.().catch(() => {}); // so that the browser does not clear it away when it wants room
  try {
    await register();
    report(await ask({ keep: "live" }));
  } catch (error) {
    refused(error);
  }
}

const after = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

const loaded = () => new Promise((resolve) => {
  if (document.readyState === "complete") resolve();
  else addEventListener("load", resolve, { once: true });
});

const alive = () => new Promise((resolve) => {
  if (globalThis.coilHost?.ready) resolve();
  else document.addEventListener("coil-ready", resolve, { once: true });
});

async function begin() {
  head("manifest", "manifest.webmanifest");
  head("apple-touch-icon", "icon-192.png");
  if (!navigator.serviceWorker) {
    say("This browser keeps nothing of this book: it does that only for an address that begins with https, or with http://localhost.");
    return;
  }
  const comesAlive = document.querySelector(":is(coil-panel, coil-exercise, coil-progress, coil-sheet):not([data-start=press])");
  await loaded();
  await Promise.race([alive(), after(comesAlive ? LONGEST_START : PAUSE)]); // what is being read comes first
  if (navigator.connection?.saveData && !(await navigator.serviceWorker.getRegistration(ROOT))) {
    say("This browser is set to save data, so nothing is kept of this book unless you ask for it.");
    offer("Keep the whole book now");
    return;
  }
  await register();
  report(await ask({}));
  await alive();
  report(await ask({ keep: "live" }));
}

begin().catch(refused);
