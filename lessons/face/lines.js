// A control that is a log: buttons of tools, each of which writes a line that stays, and what every line showed.

import { h } from "./dom.js";

/**
 * A log and its tools. Returns {node, set(keys), told(log), renew(may)}: `told` takes what the picture says of each line (the first
 * is how things were found), `renew` offers a new sheet or does not. `change(keys, event)` is told of the whole list of lines.
 */
export function linesControl({symbol, label, tools, most, why}, change) {
  const labels = new Map(tools.map(([key, text]) => [key, text]));
  let keys = [], log = [], pressed = false;
  const head = h("h4", {id: `c-${symbol}`}), list = h("ol", {class: "log"});
  const buttons = tools.map(([key, text, group]) => [group, h("button", {type: "button", "data-tool": key, onclick: (event) => write(key, event)}, text)]);
  const groups = [...new Set(tools.map(([, , group]) => group))];
  const fresh = h("button", {type: "button", class: "quiet fresh", hidden: true, onclick: (event) => begin(event)}, "The coil as it came, on a new sheet");
  const node = h("div", {class: "control lines", role: "group", "aria-labelledby": head.id}, head, list, fresh,
    ...groups.map((group) => h("fieldset", {class: "tools"}, h("legend", {}, group), h("div", {class: "buttons"}, ...buttons.filter(([of]) => of === group).map(([, button]) => button)))),
    h("p", {class: "why"}, why));

  const draw = () => {
    const full = keys.length >= most;
    head.textContent = `${label}: ${keys.length} of ${most} lines${full ? ", the sheet is full" : ""}`;
    const shown = ["", ...keys].map((key, place) => log[place] ?? {label: `${place}. ${labels.get(key)}`, text: "\u2026"});
    list.replaceChildren(...shown.map((line) => h("li", {}, h("strong", {}, line.label), " ", h("span", {}, line.text))));
    for (const [, button] of buttons) button.setAttribute("aria-disabled", String(full));  // not disabled: a keyboard stays where it is
  };
  const write = (key, event) => {
    if (keys.length >= most) return;
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
    set: (value) => {
      if (value.some((key, place) => key !== keys[place])) log = log.slice(0, 1);
      keys = [...value];
      draw();
    },
    told: (entries) => {
      if (entries.length !== keys.length + 1) return;  // of a list that has grown since
      log = entries;
      draw();
      if (pressed) list.lastElementChild.scrollIntoView({block: "nearest"});
      pressed = false;
    },
    renew: (may) => (fresh.hidden = !may),
  };
}
