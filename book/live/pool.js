// The light workers: as many as there are cores, each with the compiled kernel only, for maps of some thousand runs. They start
// with the first batch. Python says what is to be run (coilmodel/tally.py) and stays free meanwhile for the next picture.

const MOST = 8;
const PIECE = 4; // runs in a piece, and no more: some 12 ms, so that a cancelled batch soon gives way
const AHEAD = 2; // pieces that a worker has: while the page draws, it goes on with the next one
const PATIENCE = 30_000; // ms; a browser short of memory ends a worker without a word

export class Pool {
  // `makeWorker()` returns a Worker of runner.js; `begin()` the promise of its first message: {code: address of kernel.js, bytes}.
  constructor({ makeWorker, begin }, size = Math.min(MOST, Math.max(1, navigator.hardwareConcurrency || 1))) {
    Object.assign(this, { makeWorker, begin, size });
    this.hands = []; // {worker, pieces}: each worker that lives, and what it was given, first to last
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
      const hand = { worker, pieces: [] };
      worker.onmessage = ({ data }) => this.#hear(hand, data);
      worker.onerror = (event) => {
        event.preventDefault();
        this.#died(hand, event.message || "a light worker could not be started");
      };
      worker.postMessage(first);
      this.hands.push(hand);
    }
  }

  #next() {
    while (this.waiting.length) {
      const hand = this.hands.reduce((least, one) => (one.pieces.length < (least?.pieces.length ?? AHEAD) ? one : least), null);
      if (!hand) break;
      const piece = this.waiting.shift();
      if (piece.signal?.aborted) {
        piece.reject(piece.signal.reason);
        continue;
      }
      hand.pieces.push(piece);
      if (hand.pieces.length === 1) this.#watch(hand);
      hand.worker.postMessage(piece.job);
    }
    if (!this.alive) this.waiting.splice(0).forEach(({ reject }) => reject(new Error("no light worker is left")));
  }

  // A watch is kept on the piece that a worker is at.
  #watch(hand) {
    clearTimeout(hand.timer);
    if (hand.pieces.length) hand.timer = setTimeout(() => this.#died(hand, "a light worker no longer answers"), PATIENCE);
  }

  #hear(hand, { told, failed }) {
    const piece = hand.pieces.shift();
    this.#watch(hand);
    if (failed) piece.reject(new Error(failed));
    else piece.done(told);
    this.#next();
  }

  // The pieces that it had go to another one; where none is left, all that waits is rejected.
  #died(hand, reason) {
    if (!this.hands.includes(hand)) return; // it had said so for its other piece
    hand.worker.terminate();
    clearTimeout(hand.timer);
    this.alive -= 1;
    this.hands = this.hands.filter((one) => one !== hand);
    if (this.alive) this.waiting.unshift(...hand.pieces);
    else hand.pieces.forEach((piece) => piece.reject(new Error(reason)));
    this.#next();
  }
}
