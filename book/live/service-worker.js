// Keeps this edition of the book in the browser, so that it works without a network once it was visited.
// The build writes EDITION and FILES in front: {"reading": {path: [digest, bytes]}, "live": {...}}, every file of the book that a
// visitor may need. A build with any other content has another EDITION, and so another worker and another cache.
//
// With a network a page is always the server's; what is kept here answers when the server does not, or not in time.

const PREFIX = `vibrating-coil-course ${registration.scope} `; // other books may be kept for the same host
const CACHE = PREFIX + EDITION;
const PATIENCE = 4000; // ms that a page or a part of it may keep us waiting where we have it ourselves
const CUT_OFF = 10_000; // ms in which, after the server was silent, we no longer ask it first
const AT_ONCE = 6; // files fetched side by side

let silent = -Infinity; // when the server last did not answer

self.addEventListener("install", (event) => event.waitUntil(install()));
self.addEventListener("activate", (event) => event.waitUntil(dropEarlier()));
self.addEventListener("fetch", (event) => {
  const path = event.request.method === "GET" ? pathOf(event.request.url) : null;
  if (path) event.respondWith(isLive(path) ? keptFirst(event.request, path) : serverFirst(event, path));
  else if (event.request.mode === "navigate") event.respondWith(fetch(event.request).catch(() => nowhere(event.request)));
});
self.addEventListener("message", (event) => event.waitUntil(heed(event.data, event.ports[0])));

// ------------------------------------------------------------------------------------------------------------- keeping
async function install() {
  const earlier = await earlierCaches();
  try {
    await keep(FILES.reading);
    // Who could use the panels without a network before a new edition came can do so after it.
    if (await hadTheModel(earlier)) await keep(FILES.live);
  } catch (error) {
    await caches.delete(CACHE);
    throw error; // the browser drops this worker and tries again at a later visit
  }
}

async function dropEarlier() {
  for (const name of await earlierCaches()) await caches.delete(name);
}

async function earlierCaches() {
  return (await caches.keys()).filter((name) => name.startsWith(PREFIX) && name !== CACHE);
}

async function hadTheModel(names) {
  for (const name of names) {
    const held = await (await caches.open(name)).keys();
    if (held.some(({ url }) => url.endsWith(".wasm"))) return true;
  }
  return false;
}

// Fetch what is not kept yet. A file that an earlier edition keeps with the same content is taken from there. Every file is
// held against its digest: so a server where a new build is half in place gives no mixture of two editions.
async function keep(files) {
  const cache = await caches.open(CACHE);
  const earlier = await earlierCaches();
  const waiting = Object.entries(files);
  const one = async () => {
    for (let next = waiting.pop(); next; next = waiting.pop()) {
      const [path, [digest]] = next;
      const address = addressOf(path);
      if (await cache.match(address)) continue;
      await cache.put(address, (await keptBefore(earlier, address, digest)) ?? (await fetched(path, address, digest)));
    }
  };
  await Promise.all(Array.from({ length: AT_ONCE }, one));
}

async function keptBefore(names, address, digest) {
  for (const cacheName of names) {
    const reply = await caches.match(address, { cacheName });
    if (reply && (await digestOf(await reply.clone().arrayBuffer())) === digest) return reply;
  }
  return null;
}

async function fetched(path, address, digest) {
  const reply = await fetch(address, { cache: "no-cache" });
  if (!reply.ok) throw new Error(`${path}: ${reply.status} ${reply.statusText}`);
  const content = await reply.arrayBuffer();
  if ((await digestOf(content)) !== digest) throw new Error(`${path} is of another edition`);
  return new Response(content, { headers: { "content-type": reply.headers.get("content-type") ?? "application/octet-stream" } });
}

async function digestOf(content) {
  const bytes = new Uint8Array(await crypto.subtle.digest("SHA-256", content));
  return Array.from(bytes.subarray(0, 10), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

// ----------------------------------------------------------------------------------------------------------- answering
const addressOf = (path) => new URL(path.split("/").map(encodeURIComponent).join("/"), registration.scope).href;

const isLive = (path) => Object.hasOwn(FILES.live, path);

// The path, in the book, of the file that an address of the book means; null where it means none.
function pathOf(address) {
  const { origin, pathname } = new URL(address);
  if (!(origin + pathname).startsWith(registration.scope)) return null;
  const given = decodeURIComponent((origin + pathname).slice(registration.scope.length));
  const tries = [given, `${given}.html`, `${given}index.html`, `${given}/index.html`]; // hosts differ in what they leave out
  return tries.find((path) => Object.hasOwn(FILES.reading, path) || isLive(path)) ?? null;
}

const kept = (path) => caches.match(addressOf(path), { cacheName: CACHE });

// The parts of the live model lie in folders named by their content: what is kept is what the server has.
async function keptFirst(request, path) {
  return (await kept(path)) ?? fetch(request);
}

async function serverFirst(event, path) {
  const { request } = event;
  const ours = await kept(path);
  if (!ours) return fetch(request);
  if (performance.now() - silent < CUT_OFF && request.mode !== "navigate") return ours;
  let timer = 0;
  const late = new Promise((resolve) => (timer = setTimeout(resolve, PATIENCE)));
  const reply = await Promise.race([fetch(request).catch(() => null), late]);
  clearTimeout(timer);
  if (reply && reply.status < 500) {
    if (request.mode === "navigate") event.waitUntil(giveWay());
    return reply;
  }
  silent = performance.now();
  return ours;
}

// A worker of a new edition waits until no page of the old one is open. The page that comes now is the server's, so of the new
// edition already; where no other is open there is nothing to wait for.
async function giveWay() {
  const open = await clients.matchAll({ type: "window", includeUncontrolled: true });
  if (registration.waiting && open.length <= 1) registration.waiting.postMessage({ take: true });
}

function nowhere({ url }) {
  const head = '<!DOCTYPE html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>Not kept</title>';
  const words = `<p>This page is not in this book, and there is no network to look further. <a href="${addressOf("index.html")}">To the book's first page</a></p>`;
  return new Response(`${head}<body style="font:1.1rem/1.5 system-ui,sans-serif;margin:2rem">${words}`, { status: 404, headers: { "content-type": "text/html; charset=utf-8" } });
}

// --------------------------------------------------------------------------------------------------- what a page may ask
// {keep: "live"} keeps the model too; {} only asks. The answer, to the port given: how much is kept, and what went wrong.
async function heed({ keep: part, take }, port) {
  if (take) return self.skipWaiting();
  let failed = null;
  try {
    if (part) await keep(FILES[part]);
  } catch (error) {
    failed = error.name === "QuotaExceededError" ? "this browser's storage is full" : error.message;
  }
  return port?.postMessage({ edition: EDITION, failed, reading: await share(FILES.reading), live: await share(FILES.live) });
}

async function share(files) {
  const cache = (await caches.has(CACHE)) ? await caches.open(CACHE) : null; // a worker that was replaced must not make its cache anew
  const held = new Set(((await cache?.keys()) ?? []).map(({ url }) => url));
  const bytes = { kept: 0, of: 0 };
  for (const [path, [, size]] of Object.entries(files)) {
    bytes.of += size;
    if (held.has(addressOf(path))) bytes.kept += size;
  }
  return bytes;
}
