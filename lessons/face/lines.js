// A control that is a log: buttons of tools, each of which writes a line that stays, and what every line showed.

import { h } from "./dom.js";

/** The tools where room is short: a list to open, and a button that does what it names, as Enter in the list does. */
function shortTools(symbol, tools, groups, write) {
  const id = `c-${symbol}-next`;
  const act = (event) => {
    event.preventDefault();  // Enter would open the list as well
    write(select.value, event);
  };
  const options = (group) => tools.filter(([, , of]) => of === group).map(([value, text]) => h("option", {value}, text));
  const select = h("select", {id, onkeydown: (event) => event.key === "Enter" && act(event)}, ...groups.map((label) => h("optgroup", {label}, ...options(label))));
  const button = h("button", {type: "button", onclick: act}, "Do it");
  return {button, node: h("div", {class: "control next"}, h("label", {for: id}, "Next line"), h("div", {class: "doing"}, select, button))};
}

/**
 * A log and its tools. Returns {node, sheet, set(keys), told(log), renew(may)}: `sheet` has the lines and stands in `node`, but where
 * room is short (`short`), where it has its own place and `node` is the tools; `told` takes what the picture says of each line (the
 * first is how things were found), `renew` offers a new sheet or does not. `change(keys, event)` is told of the whole list of lines.
 */
export function linesControl({symbol, label, tools, most, why}, change, short) {
  const labels = new Map(tools.map(([key, text]) => [key, text]));
  let keys = [], log = [], pressed = false;
  const head = h(short ? "p" : "h4", {id: `c-${symbol}`, class: "count"}), list = h("ol", {class: "log"});
  const buttons = short ? [] : tools.map(([key, text, group]) => [group, h("button", {type: "button", "data-tool": key, onclick: (event) => write(key, event)}, text)]);
  const groups = [...new Set(tools.map(([, , group]) => group))];
  const fresh = h("button", {type: "button", class: "quiet fresh", hidden: true, onclick: (event) => begin(event)}, "The coil as it came, on a new sheet");
  const few = short ? shortTools(symbol, tools, groups, (key, event) => write(key, event)) : null;
  // the sheet of a compact view scrolls by itself: it can be reached by keyboard, too
  const sheet = h("div", {class: "sheet", ...(short ? {role: "group", "aria-labelledby": head.id, tabindex: 0} : {})}, head, list);
  const node = few?.node ?? h("div", {class: "control lines", role: "group", "aria-labelledby": head.id}, sheet, fresh,
    ...groups.map((group) => h("fieldset", {class: "tools"}, h("legend", {}, group), h("div", {class: "buttons"}, ...buttons.filter(([of]) => of === group).map(([, button]) => button)))),
    h("p", {class: "why"}, why));

  /** How many lines of the sheet the first `count` entries take; one that has not been told of yet takes one. */
  const used = (count = keys.length) => Math.min(most, keys.slice(0, count).reduce((sum, _, place) => sum + (log[place + 1]?.value ?? 1), 0));
  const draw = () => {
    const full = used() >= most;
    head.textContent = `${label}: ${used()} of ${most} lines${full ? ", the sheet is full" : ""}`;
    const shown = ["", ...keys].map((key, place) => log[place] ?? {label: `${used(place - 1) + 1}. ${labels.get(key)}`, text: "\u2026"});
    list.replaceChildren(...shown.map((line) => h("li", {}, h("strong", {}, line.label), " ", h("span", {}, line.text))));
    for (const button of few ? [few.button] : buttons.map(([, each]) => each)) button.setAttribute("aria-disabled", String(full));  // not disabled: a keyboard stays where it is
  };
  const write = (key, event) => {
    if (used() >= most) return;
    keys = [...keys, key];
    pressed = true;
    draw();
    change([...keys], event);
  };
  const begin = (event) => {
    keys = [];
    log = log.slice(0, 1);
    draw();
    change([], event);
    buttons[0][1].focus();
  };
  return {
    node,
    sheet,
    set: (value) => {
      if (value.some((key, place) => key !== keys[place])) log = log.slice(0, 1);
      keys = [...value];
      draw();
    },
    told: (entries) => {
      if (entries.length !== keys.length + 1) return;  // of a list that has grown since
      if (JSON.stringify(entries) === JSON.stringify(log)) return;  // the whole picture after a quick one: who has scrolled up since stays there
      log = entries;
      draw();
      if (short) sheet.scrollTop = sheet.scrollHeight;  // what was done last, also where another window did it
      else if (pressed) list.lastElementChild.scrollIntoView({block: "nearest"});
      pressed = false;
    },
    renew: (may) => (fresh.hidden = !may),
  };
}
