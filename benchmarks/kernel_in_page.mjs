// Times the compiled kernel in Node: `node kernel_in_page.mjs KERNEL_JS KERNEL_WASM`, then one line of JSON {numbers, sizes, runs} a
// turn on the standard input; answers each with the processor seconds that so many runs took.
import { readFileSync } from "node:fs";
import { createInterface } from "node:readline";

const [code, module] = [process.argv[2], process.argv[3]].map((path) => readFileSync(path));
const { kernelFrom } = await import(`data:text/javascript;base64,${code.toString("base64")}`);
const { run } = await kernelFrom(module);

for await (const line of createInterface({ input: process.stdin })) {
  const { numbers, sizes, runs } = JSON.parse(line);
  const before = process.cpuUsage();
  for (let turn = 0; turn < runs; turn++) {
    run("advance", Float64Array.from(numbers), ...sizes.map((size) => new Float64Array(size)));
  }
  const { user, system } = process.cpuUsage(before);
  console.log((user + system) / 1e6);
}
