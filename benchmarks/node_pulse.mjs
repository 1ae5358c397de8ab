// Time the model under the browser's Python, run by Node: `node node_pulse.mjs ROOT PULSES REPEATS` prints one line of JSON.
// The runtime and the model's text are the ones that the book serves; only the host differs (Node instead of a page).
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const [root, pulses, repeats] = [process.argv[2], Number(process.argv[3]), Number(process.argv[4])];
const runtime = join(root, "book", "node_modules", "pyodide");
const { loadPyodide } = await import(pathToFileURL(join(runtime, "pyodide.mjs")));

const started = performance.now();
const python = await loadPyodide({ indexURL: runtime });
const loaded = performance.now() - started;

python.FS.mkdirTree("/course/coilmodel");
for (const name of readdirSync(join(root, "coilmodel"))) {
  if (name.endsWith(".py")) python.FS.writeFile(`/course/coilmodel/${name}`, readFileSync(join(root, "coilmodel", name)));
}
const told = JSON.parse(python.runPython(`
import json, sys
sys.path.insert(0, "/course")
from coilmodel import Machine, MagnetoDrive, compiled, simulate
assert not compiled.COMPILED
def once():
    return simulate(Machine(), MagnetoDrive(), pulses=${pulses}, warm_up=0)
run = once()
json.dumps({"python": sys.version.split()[0], "steps": run.steps, "source": repr(run.ledger.source)})
`));
// Processor time, not the clock on the wall: a busy machine must not look like a slow runtime. The first turns, in which the
// engine is still compiling WebAssembly on other threads, are dropped.
const once = python.globals.get("once");
told.seconds = [];
for (let turn = -3; turn < repeats; turn++) {
  const before = process.cpuUsage();
  once().destroy();
  const used = process.cpuUsage(before);
  if (turn >= 0) told.seconds.push((used.user + used.system) / 1e6);
}
console.log(JSON.stringify({ ...told, node: process.version, load_ms: loaded }));
