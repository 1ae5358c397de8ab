// One worker for the page: its start, its questions one after another, its death.

const SLOW_ANSWER = 60_000; // ms; a hidden check of a dozen runs takes a few seconds, so this is an answer that never comes
const SLOW_START = 15_000;
const CALM = 1000; // ms after a slider's last move before what nobody waits for is asked

export class Host {
  // `makeWorker()` returns a Worker; `begin` is the message that starts it, `unstarted` the sentence for one that does
  // not start; `keeper` holds the learner's record; `show(state, sentence)` is told "starting", "ready" or "failed";
  // `notice(sentence)` shows a sentence about the record, or about the model.
  // `pool` holds the light workers, `early` the pictures made at build.
  constructor({ makeWorker, begin, unstarted, keeper, show, notice, pool = null, early = null }) {
    Object.assign(this, { makeWorker, begin, unstarted, keeper, show, notice, pool, early });
    this.waiting = []; // questions not sent yet
    this.current = null; // the question that the worker has
    this.worker = null;
    this.ready = false;
    this.asleep = false; // the first touch starts it
    this.moved = -Infinity; // when a question of a slider in motion was sent last
  }

  start() {
    this.stop();
    if (this.current) this.waiting.unshift(this.current); // the worker that had it is gone
    this.current = null;
    this.asleep = false;
    this.show("starting", "Starting the live model");
    this.slow = setTimeout(() => this.show("starting", "Still fetching the live model; a slow line takes a while, once"), SLOW_START);
    try {
      this.worker = this.makeWorker();
    } catch (error) {
      this.fail(`The live model cannot start in this browser (${error.message}).`);
      return;
    }
    const worker = this.worker;
    worker.onmessage = ({ data }) => worker === this.worker && this.hear(data);
    worker.onerror = (event) => {
      event.preventDefault();
      if (worker === this.worker) this.fail(this.ready ? "The live model stopped." : this.unstarted);
    };
    worker.postMessage({ start: this.begin });
  }

  stop() {
    clearTimeout(this.slow);
    clearTimeout(this.timer);
    this.worker?.terminate();
    this.worker = null;
    this.ready = false;
  }

  // Ask the engine. The promise waits through a failed start or a death of the worker, until somebody tries again; but what was
  // made at build is answered at once. Cells of a map are found by the light workers, until `signal` says that nobody wants them
  // any more.
  async ask(request, signal = null) {
    const early = !this.ready && (await this.early?.answer(request));
    if (this.asleep && (!early || request.do !== "panel")) this.start();
    if (early && !this.ready) return early;
    return request.do === "cells" && this.pool ? this.cells(request, signal) : this.put(request);
  }

  // Python's own answer.
  put(request) {
    return new Promise((resolve) => {
      this.waiting.push({ request, resolve, deaths: 0 });
      this.next();
    });
  }

  // Python says what is to be run; where the light workers fail, it does it itself.
  async cells(request, signal) {
    const { tree, arrays } = await this.put({ ...request, do: "runs" });
    if (tree.error) return { tree, arrays };
    const { numbers, valid, status, column, most, ...batch } = tree.runs;
    const row = (list) => (Array.isArray(list) ? Float64Array.from(list) : arrays[list.$]); // long lists come as buffers
    try {
      const told = await this.pool.run({ ...batch, numbers: row(numbers) }, signal);
      const each = batch.sizes[batch.sizes.length - 1];
      const cells = request.places.map(() => null);
      row(valid).forEach((index, run) => {
        if (told[run * each + status] === 0) cells[index] = Math.min(most, told[run * each + column]);
      });
      return { tree: { cells }, arrays: [] };
    } catch (error) {
      if (signal?.aborted) return { tree: { cells: [] }, arrays: [] };
      console.warn(`The light workers: ${error.message}`);
      if (this.pool) this.notice("The workers that fill maps side by side could not be used here, so maps fill more slowly.");
      this.pool = null;
      return this.put(request);
    }
  }

  // One question at a time: so a watch can be kept on each, and a death is laid to the right one. A slider in motion goes before
  // all that rests, and what nobody waits for goes last.
  next() {
    if (!this.ready || this.current || !this.waiting.length) return;
    const haste = ({ request: { whole, idle } }) => (whole === false ? 0 : idle ? 2 : 1);
    const first = this.waiting.reduce((best, one) => (haste(one) < haste(best) ? one : best));
    const moved = haste(first) === 2 ? this.moved + CALM - performance.now() : 0;
    if (moved > 0) {
      clearTimeout(this.calm);
      this.calm = setTimeout(() => this.next(), moved);
      return;
    }
    if (haste(first) === 0) this.moved = performance.now();
    this.waiting.splice(this.waiting.indexOf(first), 1);
    this.current = first;
    this.timer = setTimeout(() => this.giveUp(), SLOW_ANSWER);
    this.worker.postMessage({ request: JSON.stringify(this.current.request) });
  }

  hear(data) {
    if (data.stage) {
      this.show("starting", data.stage);
    } else if (data.ready) {
      clearTimeout(this.slow);
      this.begun();
      if (data.notice) this.notice(data.notice);
    } else if (data.failed) {
      this.fail(data.failed);
    } else {
      this.answer(data);
    }
  }

  // The worker runs. Give it the learner's record before anything else is asked.
  async begun() {
    this.ready = true;
    const waiting = this.waiting;
    this.waiting = [];
    const kept = this.keeper.text;
    const loaded = kept ? this.put({ do: "load", record: kept }) : Promise.resolve(null);
    this.waiting.push(...waiting);
    this.next();
    const reply = await loaded;
    if (reply?.tree.error) {
      this.keeper.setAside();
      this.notice(`The record kept in this browser could not be read and was set aside. ${reply.tree.error}`);
    }
    this.show("ready", "");
  }

  answer({ text, buffers }) {
    clearTimeout(this.timer);
    const { request, resolve } = this.current;
    this.current = null;
    const tree = JSON.parse(text);
    if (tree.record && request.do !== "load") this.keeper.write(tree.record);
    // Back under a nickname that was used in this browser before: go on where that learner was.
    const earlier = request.do === "learner" && tree.record ? this.keeper.earlier(tree.record) : null;
    if (earlier) resolve(this.goOn(earlier, tree));
    else resolve({ tree, arrays: buffers.map((buffer) => new Float64Array(buffer)) });
    this.next();
  }

  async goOn(earlier, blank) {
    const reply = await this.put({ do: "load", record: earlier });
    if (reply.tree.error) return { tree: blank, arrays: [] };
    this.keeper.write(reply.tree.record);
    return reply;
  }

  // No answer in time: stop the worker, answer with a sentence, start a new one.
  giveUp() {
    const { resolve } = this.current;
    this.current = null;
    resolve({ tree: { error: `This took more than ${SLOW_ANSWER / 1000} s and was stopped. If it was a function of yours, look for a loop that never ends.` }, arrays: [] });
    this.start();
  }

  // The worker is gone. Its question goes to the next worker, once; one that kills two workers is answered with a sentence.
  fail(sentence) {
    this.stop();
    if (this.current) {
      const question = this.current;
      this.current = null;
      question.deaths += 1;
      if (question.deaths < 2) this.waiting.unshift(question);
      else question.resolve({ tree: { error: "The live model stopped at this twice; try other settings." }, arrays: [] });
    }
    this.show("failed", sentence);
  }
}
