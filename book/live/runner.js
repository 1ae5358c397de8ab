// A light worker: it holds the compiled kernel and nothing else of the course, and does the runs it is handed (see pool.js).

let kernel = null; // the promise of it

self.onmessage = async ({ data }) => {
  if (data.code) {
    kernel = import(data.code).then(({ kernelFrom }) => kernelFrom(data.bytes));
    kernel.catch(() => {}); // it is said at the first piece
    return;
  }
  const { numbers, width, sizes } = data;
  try {
    const { run } = await kernel;
    const each = sizes[sizes.length - 1];
    const told = new Float64Array((numbers.length / width) * each);
    for (let number = 0; number * width < numbers.length; number++) {
      const parameters = numbers.subarray(number * width, (number + 1) * width);
      const [strips, events, ledger, meter, tally] = sizes.map((size) => new Float64Array(size));
      run("advance", parameters, strips, events, ledger, meter);
      run("tally", parameters, events, meter, tally);
      told.set(tally, number * each);
    }
    self.postMessage({ told }, [told.buffer]);
  } catch (error) {
    self.postMessage({ failed: String(error.message ?? error) });
  }
};
