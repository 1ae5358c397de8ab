// The light workers: as many as there are cores, each with the compiled kernel only, for maps of some thousand runs. They start
// with the first batch. Python says what is to be run (coilmodel/tally.py) and stays free meanwhile for the next picture.

const MOST = 8;
const PIECE = 4; // runs handed to a worker at once, and no more: some 20 ms, so that a cancelled batch soon gives way
const PATIENCE = 30_000; // ms; a browser short of memory ends a worker without a word

export class Pool {
  // `makeWorker()` returns a Worker of runner.js; `begin()` the promise of its first message: {code: address of kernel.js, bytes}.
  constructor({ makeWorker, begin }, size = Math.min(MOST, Math.max(1, navigator.hardwareConcurrency || 1))) {
    Object.assign(this, { makeWorker, begin, size });
    this.idle = [];
    this.workers = null; // the promise that they have started
    this.waiting = []; // pieces that no worker has yet
  }

  // Do the runs of a batch: {numbers: Float64Array of runs x width, width, sizes}, as coilmodel.tally has them. Returns the
  // promise of a Float64Array, sizes' last a run. Rejected with an AbortError where `signal` says so before the end, and with
  // another error where the workers cannot start or all have died: then Python must do it.
  async run({ numbers, width, sizes }, signal = null) {
    this.workers ??= this.#start();
    await this.workers;
    const each = sizes[sizes.length - 1];
    const runs = numbers.length / width, told = new Float64Array(runs * each);
    const pieces = [];
    const many = Math.min(PIECE, Math.ceil(runs / (2 * this.size))); // of a small batch less, or one worker would end long before another
    for (let from = 0; from < runs; from += many) {
      pieces.push(new Promise((resolve, reject) => {
        const job = { numbers: numbers.slice(from * width, (from + many) * width), width, sizes };
        const done = (part) => resolve(told.set(part, from * each));
        this.waiting.push({ job, done, reject, signal });
      }));
    }
    this.#next();
    await Promise.all(pieces);
    return told;
  }

  async #start() {
    const first = await this.begin();
    this.alive = this.size;
    for (let number = 0; number < this.size; number++) {
      const worker = this.makeWorker();
      const hand = { worker, piece: null };
      worker.onmessage = ({ data }) => this.#hear(hand, data);
      worker.onerror = (event) => {
        event.preventDefault();
        this.#died(hand, event.message || "a light worker could not be started");
      };
      worker.postMessage(first);
      this.idle.push(hand);
    }
  }

  #next() {
    while (this.idle.length && this.waiting.length) {
      const piece = this.waiting.shift();
      if (piece.signal?.aborted) {
        piece.reject(piece.signal.reason);
        continue;
      }
      const hand = this.idle.pop();
      hand.piece = piece;
      hand.timer = setTimeout(() => this.#died(hand, "a light worker no longer answers"), PATIENCE);
      hand.worker.postMessage(piece.job);
    }
    if (!this.alive) this.waiting.splice(0).forEach(({ reject }) => reject(new Error("no light worker is left")));
  }

  #hear(hand, { told, failed }) {
    const { piece } = hand;
    clearTimeout(hand.timer);
    hand.piece = null;
    this.idle.push(hand);
    if (failed) piece.reject(new Error(failed));
    else piece.done(told);
    this.#next();
  }

  // The piece that it had goes to another one; where none is left, all that waits is rejected.
  #died(hand, reason) {
    hand.worker.terminate();
    clearTimeout(hand.timer);
    this.alive -= 1;
    this.idle = this.idle.filter((one) => one !== hand);
    if (hand.piece) {
      if (this.alive) this.waiting.unshift(hand.piece);
      else hand.piece.reject(new Error(reason));
    }
    this.#next();
  }
}
