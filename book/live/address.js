// Settings in the address: `05_cushion_spring.html#cushion?preload=1.2&rpm=300`. After the "#", so that it is the same from a
// server, below a sub-path and from a double click. `preset=too-slack` begins from a preset; several panels have ";" between
// them. Each panel gets a button that makes and copies such an address. What it asks for is checked by the engine, like a slider.

const slug = (text) => text.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "");
const startOf = ({ type, optional, default: value }) => (type === "lines" ? [] : optional ? null : value);
const defaults = (panel) => Object.fromEntries(panel.panel.controls.map((control) => [control.symbol, startOf(control)]));

// "#cushion?preload=1.2;box" -> [["cushion", {preload: "1.2"}], ["box", {}]]; what is no setting (a heading's anchor) is left out.
function settings(hash, names) {
  const parts = hash.slice(1).split(";").map((part) => {
    const [name, ...rest] = part.split("?");
    return [new URLSearchParams(`name=${name}`).get("name"), Object.fromEntries(new URLSearchParams(rest.join("?"))), rest.length > 0];
  });
  return parts.filter(([name, , asks]) => asks || names.includes(name));
}

// The values that an address asks for; raises a sentence about a preset that is not there. A text stays one, and the engine says so.
function valuesOf({ controls, presets }, { preset, ...given }) {
  const known = new Map(controls.map((control) => [control.symbol, control]));
  const chosen = preset === undefined ? null : presets.find(({ label }) => slug(label) === slug(preset));
  if (chosen === undefined) throw new Error(`There is no preset "${preset}" here; there are ${presets.map(({ label }) => slug(label)).join(", ")}.`);
  const typed = ([symbol, text]) => {
    const number = text.trim() === "" ? NaN : Number(text);
    if (known.get(symbol)?.type === "lines") return [symbol, text ? text.split(",") : []]; // what stands on a log
    return [symbol, known.get(symbol)?.type === "slider" && Number.isFinite(number) ? number : text];
  };
  return { say: chosen?.say ?? "", values: { ...chosen?.values, ...Object.fromEntries(Object.entries(given).map(typed)) } };
}

async function apply(panel, given) {
  try {
    const { values, say } = valuesOf(panel.panel, given);
    await panel.request({ do: "compute", name: panel.name, values, whole: false });
    panel.set({ ...defaults(panel), ...values });
    panel.comment(say);
  } catch (fault) {
    panel.refuse(`The address of this page asks for a setting that there is not, so the sliders stay where they are. ${fault.message}`);
  }
}

// The address of what the panel shows now: only what differs from where it begins.
function hashOf(panel) {
  const usual = defaults(panel);
  const moved = Object.entries(panel.values).filter(([symbol, value]) => String(value) !== String(usual[symbol]));
  return `#${panel.name}${moved.length ? `?${new URLSearchParams(moved)}` : ""}`;
}

function addButton(panel) {
  const button = document.createElement("button");
  Object.assign(button, { type: "button", className: "quiet", textContent: "Link to this setting" });
  button.onclick = async () => {
    history.replaceState(null, "", hashOf(panel));
    const copied = await navigator.clipboard.writeText(location.href).then(() => true, () => false);
    panel.comment(copied ? "Copied: the address of this page with these settings." : "The address of this page now holds these settings; copy it from there.", true);
  };
  panel.controls.querySelector(".buttons.tools")?.append(button);
}

// `notice(sentence)` says what belongs to no panel.
export function followAddress(notice) {
  const panels = new Map([...document.querySelectorAll("coil-panel:not([view])")].map((panel) => [panel.getAttribute("name"), panel]));
  const begun = new Set();
  const waiting = new Map(); // panel -> what the address asks of it, until it is alive

  function read() {
    const asked = settings(location.hash, [...panels.keys()]);
    for (const [name, given] of asked) {
      const panel = panels.get(name);
      if (!panel) notice(`The address of this page asks for a panel "${name}", which is not here; here are ${[...panels.keys()].join(", ")}.`);
      else if (begun.has(panel)) apply(panel, given);
      else waiting.set(panel, given);
    }
    panels.get(asked[0]?.[0])?.scrollIntoView();
  }

  document.addEventListener("coil-painted", ({ target }) => {
    if (begun.has(target) || panels.get(target.name) !== target) return;
    begun.add(target);
    addButton(target);
    if (waiting.has(target)) apply(target, waiting.get(target));
    waiting.delete(target);
  });
  addEventListener("hashchange", read);
  read();
}
