// Filling a map from coarse to fine while the reader watches: every eighth setting each way first, then those between.

const STRIDES = [8, 4, 2, 1];
const FINEST_FIRST = [...STRIDES].reverse();
const AT_ONCE = 48;  // cells asked for in one question: so a move ends it many times a second
const AT_FIRST = 8;  // of those of the coarsest stride, so that something is to be seen at once
const SEEN = 200;    // ms from one drawing to the next: to draw all of it takes the cores longer than some of the runs do

/** The places of a map of so many columns and rows, by how fine they make it: a list for each stride, without those before. */
export function byStride(columns, rows) {
  const lists = STRIDES.map(() => []);
  for (let row = 0; row < rows; row++) {
    for (let column = 0; column < columns; column++) {
      const level = STRIDES.findIndex((stride) => row % stride === 0 && column % stride === 0);
      lists[level].push(row * columns + column);
    }
  }
  return lists.filter((list) => list.length);
}

export class Filling {
  cells;          // by place: a whole number, null (there is no such coil), undefined (not known yet)
  done = false;
  told = -Infinity; // when what had come was drawn last
  #stop = new AbortController();

  /** `ask(places, signal)` resolves to their cells; `changed()` is called when some have come, and `failed(fault)` where none will. */
  constructor({columns, rows, ask, changed, failed}) {
    Object.assign(this, {columns, rows, ask, changed, failed});
    this.cells = new Array(columns * rows);
    this.#fill();
  }

  get begun() {
    return this.cells.some((cell) => cell !== undefined);
  }

  /** What to draw at a place: its cell, or that of the nearest one that is known; undefined while there is none. */
  at(row, column) {
    const own = this.cells[row * this.columns + column];
    if (own !== undefined) return own;
    for (const stride of FINEST_FIRST) {
      const near = (index, count) => Math.min(Math.round(index / stride), Math.floor((count - 1) / stride)) * stride;
      const cell = this.cells[near(row, this.rows) * this.columns + near(column, this.columns)];
      if (cell !== undefined) return cell;
    }
    return undefined;
  }

  stop() {
    clearTimeout(this.late);
    this.#stop.abort();
  }

  /** Have what has come drawn: the first cells and the last at once, those between not too often. */
  #tell() {
    clearTimeout(this.late);
    const soon = this.done ? 0 : this.told + SEEN - performance.now();
    if (soon > 0) {
      this.late = setTimeout(() => this.#tell(), soon);
    } else {
      this.told = performance.now();
      this.changed();
    }
  }

  async #fill() {
    const {signal} = this.#stop;
    const pieces = byStride(this.columns, this.rows).flatMap((places, level) => {
      const many = level ? AT_ONCE : AT_FIRST;
      return Array.from({length: Math.ceil(places.length / many)}, (_, i) => places.slice(i * many, (i + 1) * many));
    });
    const asked = [];  // two questions are on their way at a time: while the cells of one are run, the other is made ready
    try {
      while (asked.length || pieces.length) {
        while (asked.length < 2 && pieces.length) {
          const places = pieces.shift();
          const cells = this.ask(places, signal);
          cells.catch(() => {});  // it is looked at when its turn comes
          asked.push({places, cells});
        }
        const {places, cells} = asked.shift();
        const told = await cells;
        if (signal.aborted) return;
        places.forEach((place, i) => (this.cells[place] = told[i]));
        this.done = !asked.length && !pieces.length;
        this.#tell();
      }
    } catch (fault) {
      if (!signal.aborted) this.failed(fault);
    }
  }
}
