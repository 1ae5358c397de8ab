// Runs calls of a compiled module in Node: `node run_kernel.mjs FOLDER`, where the folder holds kernel.js, kernel.wasm,
// calls.json ([[name, [floats in a buffer, ...]], ...]) and floats.bin: the buffers of all calls, one after the other, which are
// written back as the calls leave them.
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";

const read = (name) => readFileSync(join(process.argv[2], name));
const { kernelFrom } = await import(`data:text/javascript;base64,${read("kernel.js").toString("base64")}`);
const { run } = await kernelFrom(read("kernel.wasm"));

const bytes = read("floats.bin");
const floats = new Float64Array(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength));
let next = 0;
for (const [name, lengths] of JSON.parse(read("calls.json"))) {
  run(name, ...lengths.map((length) => floats.subarray(next, (next += length))));
}
writeFileSync(join(process.argv[2], "floats.bin"), new Uint8Array(floats.buffer));
