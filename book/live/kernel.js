// The compiled kernel: a WebAssembly module that coilmodel/translate wrote out of the kernel's Python, and how to call it.
// Used by the worker that runs Python, by the light workers, and by the build, which holds it against the plain kernel in Node.

const FLOAT = 8; // bytes
const PAGE = 65536;

// Returns {names, run}: the names of the module's functions, and run(name, ...given), which calls one. A number is given as it is;
// a Float64Array is a buffer of the function's, which it reads and writes in place. Throws what WebAssembly.instantiate throws
// where the browser refuses.
export async function kernelFrom(bytes) {
  const { instance } = await WebAssembly.instantiate(bytes);
  const { memory, ...functions } = instance.exports;
  let heap = new Float64Array(memory.buffer);

  const roomFor = (floats) => {
    const more = floats * FLOAT - memory.buffer.byteLength;
    if (more <= 0) return;
    memory.grow(Math.ceil(more / PAGE));
    heap = new Float64Array(memory.buffer);
  };

  // The buffers lie one after the other from the second float on, as the caller filled them: nothing of an earlier run is seen.
  const run = (name, ...given) => {
    const buffers = given.filter((one) => typeof one !== "number");
    roomFor(buffers.reduce((sum, one) => sum + one.length, 1));
    let next = 1;
    const places = buffers.map((one) => {
      const place = next;
      heap.set(one, place);
      next += one.length;
      return place;
    });
    let index = 0;
    const result = functions[name](...given.flatMap((one) => (typeof one === "number" ? [one] : [FLOAT * places[index++], one.length])));
    buffers.forEach((one, number) => one.set(heap.subarray(places[number], places[number] + one.length)));
    return result;
  };
  return { names: Object.keys(functions), run };
}
