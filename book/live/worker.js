// The worker: Python in the browser, the course's own Python in it, one question after another.

let engine = null;
let pyodide = null;
let fetchPart = null; // name -> bytes of a file of data that was left out at the start

self.onmessage = async ({ data }) => {
  if (data.start) {
    try {
      const notice = await start(data.start);
      self.postMessage({ ready: true, notice });
    } catch (error) {
      failed(error);
    }
  } else {
    answer(data.request);
  }
};

function failed(error) {
  if (!engine) self.postMessage({ failed: `The live model could not start (${firstLine(error)}).` });
}

const fetchUnwatched = self.fetch.bind(self);

// The runtime swallows some failures of its start, and then waits for ever. So what it relies on is watched from here.
function watch(object, name) {
  const plain = object[name].bind(object);
  object[name] = async (...given) => {
    try {
      const reply = await plain(...given);
      if (reply.ok === false) throw new Error(`${reply.url.split("/").pop()}: ${reply.status} ${reply.statusText}`);
      return reply;
    } catch (error) {
      failed(error);
      throw error;
    }
  };
}
watch(self, "fetch");
watch(WebAssembly, "instantiateStreaming");
self.onunhandledrejection = (event) => {
  if (engine) return;
  event.preventDefault();
  failed(event.reason);
};

// `python` is the address of the folder of Python for the browser, `course` that of the zip with the course's Python.
// Opened by a double click there are no addresses: then `files` holds the bytes by name. Returns what the reader should know.
async function start({ python, course, files }) {
  const stage = (text) => self.postMessage({ stage: text });
  stage("Starting Python in this page");
  const options = { indexURL: python, stdout: console.log, stderr: console.warn };
  const runtime = files ? await runtimeFrom(files, options) : await import(`${python}pyodide.mjs`);
  const [loaded, archive, kernel] = await Promise.all([
    runtime.loadPyodide(options),
    files ? files["course.zip"] : fetch(course).then((reply) => reply.arrayBuffer()),
    compiledKernel(course, files),
  ]);
  pyodide = loaded;
  fetchPart = async (name) => (files ? files[name] : (await fetch(new URL(name, course))).arrayBuffer());
  if (kernel) pyodide.registerJsModule("page_kernel", { names: kernel.names, call: withPythonsBuffers(kernel.run) });
  stage("Loading the model of the coil");
  pyodide.unpackArchive(archive, "zip", { extractDir: "/course" });
  // what loads now stays, so Python need not look through it for what could be thrown away, neither meanwhile nor later
  pyodide.runPython("import gc, sys; gc.disable(); sys.path.insert(0, '/course')");
  engine = pyodide.pyimport("lessons.engine").Engine();
  pyodide.runPython("gc.freeze(); gc.enable()");
  return kernel ? "" : "The fast form of the model could not be started here, so the plain one answers, more slowly.";
}

// The kernel compiled for pages (see kernel.js), or null where this browser will not have it: then Python runs the kernel's text.
async function compiledKernel(course, files) {
  try {
    const { kernelFrom } = await import(files ? moduleOf(files["kernel.js"]) : new URL("kernel.js", course));
    const bytes = files?.["kernel.wasm"] ?? (await (await fetchUnwatched(new URL("kernel.wasm", course))).arrayBuffer());
    return await kernelFrom(bytes);
  } catch (error) {
    console.warn(`The compiled kernel: ${firstLine(error)}`);
    return null;
  }
}

// Python's arrays lie in its own memory: the kernel is given a view of each, and Python finds them filled.
function withPythonsBuffers(run) {
  return (name, ...given) => {
    const views = given.map((one) => (typeof one === "number" ? null : one.getBuffer("f64")));
    try {
      return run(name, ...given.map((one, index) => views[index]?.data ?? one));
    } finally {
      views.forEach((view) => view?.release());
    }
  };
}

// Serve the runtime's own requests from memory: two it fetches by name, the rest it takes as options.
async function runtimeFrom(files, options) {
  options.indexURL = "carried:///";
  options.createPyodideModule = (await import(moduleOf(files["pyodide.asm.mjs"]))).default;
  options.lockFileContents = new TextDecoder().decode(files["pyodide-lock.json"]);
  const serve = { "pyodide.asm.wasm": "application/wasm", "python_stdlib.zip": "application/zip" };
  self.fetch = async (address) => {
    const name = String(address).split("/").pop();
    if (!(name in serve)) throw new Error(`${name} is not among the files of this book`);
    return new Response(files[name], { headers: { "content-type": serve[name] } });
  };
  return import(moduleOf(files["pyodide.mjs"]));
}

const moduleOf = (bytes) => `data:text/javascript;base64,${base64(bytes)}`;

function base64(bytes) {
  const view = new Uint8Array(bytes);
  let text = "";
  for (let at = 0; at < view.length; at += 32768) text += String.fromCharCode.apply(null, view.subarray(at, at + 32768));
  return btoa(text);
}

// Some answers rest on a file of data that most pages never need: the engine's reply names it, and it is fetched now.
async function bring(path) {
  try {
    const bytes = await fetchPart(path.split("/").pop());
    pyodide.FS.writeFile(`/course/${path}`, new Uint8Array(bytes));
    return null;
  } catch (error) {
    return JSON.stringify({ error: `A part of this page could not be fetched (${firstLine(error)}); try again.` });
  }
}

// Arrays leave Python as float64 buffers and are moved, not copied again, to the page.
async function answer(request) {
  let reply = null;
  try {
    reply = engine.handle_json(request);
    let [text, arrays] = [reply.get(0), reply.get(1)];
    const wanted = engine.wanted;
    if (wanted) {
      const trouble = await bring(wanted);
      if (trouble) return self.postMessage({ text: trouble, buffers: [] });
      arrays.destroy();
      reply.destroy();
      reply = engine.handle_json(request);
      [text, arrays] = [reply.get(0), reply.get(1)];
    }
    const buffers = Array.from({ length: arrays.length }, (_, index) => floats(arrays.get(index)));
    arrays.destroy();
    self.postMessage({ text, buffers }, buffers);
  } catch (error) {
    // A Python error is an answer; anything else means that the interpreter itself is gone.
    if (error instanceof pyodide.ffi.PythonError) {
      self.postMessage({ text: JSON.stringify({ error: `The live model stumbled: ${lastLine(error)}` }), buffers: [] });
    } else {
      self.postMessage({ failed: `The live model stopped (${firstLine(error)}).` });
    }
  } finally {
    reply?.destroy();
  }
}

function floats(array) {
  const view = array.getBuffer("f64");
  try {
    return view.data.slice().buffer;
  } finally {
    view.release();
    array.destroy();
  }
}

const lines = (error) => String(error.message ?? error).trim().split("\n");
const firstLine = (error) => lines(error)[0].slice(0, 200);
const lastLine = (error) => lines(error).pop().slice(0, 200);
