// Pictures made at build (book/making/early.py has the form of their files): they answer the first touch while Python is still on
// its way. Where a picture is not among them, or the file does not come or cannot be read, the answer is null: then Python's is waited for.

const LOWEST = -32500; // the step of a curve's least number
const MISSING = -32768; // the step that stands for a number that is none

export class Early {
  #tables = new Map(); // name of a panel -> the promise of its table, or of null

  // `bytes(name)` returns the promise of a file's content.
  constructor(bytes) {
    this.bytes = bytes;
  }

  // Answer as the engine would, or null.
  async answer(request) {
    if (request.do !== "panel" && request.do !== "compute") return null;
    if (!this.#tables.has(request.name)) this.#tables.set(request.name, this.#fetched(request.name));
    const table = await this.#tables.get(request.name);
    const picture = table?.pictures.get(settingOf(table.panel, request.values ?? {}));
    if (!picture) return null;
    const { panel, arrays } = table;
    return { tree: { ...(request.do === "panel" ? { panel } : {}), picture, early: true }, arrays };
  }

  async #fetched(name) {
    try {
      return tableFrom(await unzipped(await this.bytes(`early-${name}.bin`)));
    } catch (error) {
      console.warn(`Pictures made beforehand of ${name}: ${error.message}`);
      return null;
    }
  }
}

// One text for one setting: numbers that a slider's steps round otherwise are the same.
function settingOf(panel, values) {
  return panel.controls.map(({ symbol, optional, default: start }) => word(values[symbol] === undefined ? (optional ? null : start) : values[symbol])).join("|");
}

const word = (value) => (typeof value === "number" ? String(Number(value.toPrecision(9))) : String(value));

async function unzipped(bytes) {
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(stream).arrayBuffer();
}

function tableFrom(content) {
  const view = new DataView(content);
  const length = view.getUint32(0, true);
  const { panel, settings, pictures, curves } = JSON.parse(new TextDecoder().decode(new Uint8Array(content, 4, length)));
  let at = 4 + length;
  const arrays = curves.map(([count, low, step]) => {
    const curve = new Float64Array(count);
    let now = 0;
    for (let i = 0; i < count; i++) {
      now = ((now + (view.getUint8(at + i) | (view.getInt8(at + count + i) << 8))) << 16) >> 16; // as 16 bits wrap round
      curve[i] = now === MISSING ? NaN : low + step * (now - LOWEST);
    }
    at += 2 * count;
    return curve;
  });
  return { panel, arrays, pictures: new Map(settings.map((values, i) => [values.map(word).join("|"), pictures[i]])) };
}
