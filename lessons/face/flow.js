// What cannot be seen in a contact set, drawn over it as it comes and goes: the current, the core's flux, and the windings that
// carry them. The current's dashes move on with the charge that has flowed, so they stand still when time does, and run back with it.

import { HUES } from "./assembled.js";
import { readAt, s } from "./dom.js";

const WINDING = {primary: 9, secondary: 14, apart: 3};  // px across
const LOOPS = 3;            // lines of flux on each side at full strength
const DASH = [7, 8];        // px of a dash of the current and of the space after it
const STRIDE = 16;          // px that the dashes go for a millisecond at full current
const FAINTEST = 0.02;         // of full strength; less is drawn as nothing

export class Flow {
  constructor() {
    this.under = s("g", {class: "flow"});  // windings and leads, behind the blades
    this.over = s("g", {class: "flow"});   // current and flux, before them
  }

  /** Take a scene: how much charge has flowed by each of its times, in full currents times milliseconds. */
  show({time, current, flux, full_current: fullCurrent, full_flux: fullFlux}) {
    Object.assign(this, {time, current, flux: flux.length ? flux : null, fullCurrent, fullFlux});
    this.charge = new Float64Array(time.length);
    for (let i = 1; i < time.length; i++) this.charge[i] = this.charge[i - 1] + (0.5 * (current[i] + current[i - 1]) * (time[i] - time[i - 1])) / fullCurrent;
  }

  /**
   * Draw what stands still. `place` says where the picture has its parts, in px: clamp (the frame's right edge), contact and its
   * core's half width, zero (the rivet position), bridge, core, foot (the core's lower end), gap {x, y}, button, blade, and fine (how
   * much narrower than usual windings and lines of flux are to be).
   */
  build(theme, place) {
    this.place = place;
    const look = HUES[theme], hue = (name) => HUES.quantities[name][theme];
    const {clamp, contact, half, zero, core, foot, gap, fine} = place;
    const top = core + 6, deep = Math.max(6, foot - top - 2);
    const inner = half + 2, outer = inner + fine * (WINDING.primary + WINDING.apart), edge = outer + fine * WINDING.secondary;
    const winding = (name, from, wide, fill) => [-1, 1].map((side) => s("rect", {class: name, x: contact + (side < 0 ? -from - wide : from), y: top, width: wide, height: deep,
      fill: hue(fill), "fill-opacity": 0.3, stroke: look.ink, "stroke-width": 1}));
    this.edge = edge;
    this.primary = winding("primary", inner, fine * WINDING.primary, "current");
    this.lead = s("path", {class: "secondary-lead", d: `M${contact + edge - 4} ${top}V${core + 2}H${gap.x - 14}V${gap.y - 36}H${gap.x}`, stroke: hue("secondary"), fill: "none", "stroke-width": 1.5});
    const middle = (8 + clamp) / 2;
    this.under.replaceChildren(...winding("secondary", outer, fine * WINDING.secondary, "secondary"), ...this.primary, this.lead,
      s("path", {d: `M0 ${place.bridge - 7}H8M${middle} ${core}V${core + 3}H${contact - inner - 4}V${top}`, stroke: look.ink, "stroke-width": 1.5, fill: "none"}));
    // the frame is parted half way, and the condenser lies across the break, and so across the contacts
    const condenser = [s("rect", {x: 7, y: zero - 7, width: clamp - 6, height: 14, fill: look.surface}),
      s("path", {class: "condenser", d: `M${middle} ${zero - 7}V${zero - 3}m${-(clamp - 14) / 2} 0h${clamp - 14}m${-(clamp - 14)} 6h${clamp - 14}m${-(clamp - 14) / 2} 0V${zero + 7}`, stroke: look.ink, "stroke-width": 2, fill: "none"})];
    this.path = s("path", {class: "current", stroke: hue("current"), fill: "none", "stroke-dasharray": DASH.join(" "), "stroke-linejoin": "round"});
    this.loops = [-1, 1].flatMap((side) => Array.from({length: LOOPS}, (_, k) => ({side, k, path: s("path", {class: "flux", stroke: hue("force"), fill: "none", "stroke-width": 1 + fine, "stroke-dasharray": "2 3"})})));
    this.over.replaceChildren(...this.loops.map(({path}) => path), ...condenser, this.path);
  }

  /** Draw the moment `now`: contacts at `v` and `c` px below the rivet position, apart or closed, a spark or none. */
  draw(now, v, c, apart, sparking) {
    const {place, time} = this;
    if (!place) return;
    const current = readAt(time, this.current, now) / this.fullCurrent, strong = Math.min(1, Math.abs(current));
    this.path.setAttribute("visibility", strong > FAINTEST ? "visible" : "hidden");
    this.path.setAttribute("stroke-width", (1.5 + 4 * place.fine * strong).toFixed(2));
    this.path.setAttribute("d", apart ? this.#throughCondenser() : this.#throughContacts(v, c));
    this.path.setAttribute("stroke-dashoffset", (-STRIDE * readAt(time, this.charge, now)).toFixed(2));
    for (const rect of this.primary) rect.setAttribute("fill-opacity", (0.15 + 0.8 * strong).toFixed(2));
    this.lead.setAttribute("stroke-width", sparking ? 4 : 1.5);
    const share = this.flux ? Math.abs(readAt(time, this.flux, now)) / this.fullFlux : 0;
    for (const {side, k, path} of this.loops) {
      const seen = Math.min(1, Math.max(0, share * LOOPS - k));
      path.setAttribute("opacity", seen.toFixed(2));
      if (seen > 0) path.setAttribute("d", this.#loop(side, k, v));
    }
  }

  /** Up through the core and across to the blade, out over the windings, and back round their lower end. */
  #loop(side, k, v) {
    const {contact, half, zero, button, blade, foot, fine} = this.place;
    const x0 = contact + side * half * (0.2 + 0.3 * k), x1 = contact + side * (this.edge + fine * (7 + 8 * k));
    const iron = zero + v + button + 0.5 * blade, rise = fine * (6 + 5 * k);
    return `M${x0} ${foot}V${iron}C${x0} ${iron - rise} ${x1} ${iron - rise} ${x1} ${iron + 16 + rise}V${foot - 6}C${x1} ${foot + rise} ${x0} ${foot + rise} ${x0} ${foot}`;
  }

  #ends() {
    const {clamp, bridge, core, foot, contact, half} = this.place;
    const middle = (8 + clamp) / 2;
    return {middle, into: `M0 ${bridge - 7}H${middle}`, out: `V${core + 3}H${contact - half - 6}V${foot - 2}`};
  }

  #throughContacts(v, c) {
    const {clamp, contact, zero, button, blade} = this.place, {middle, into, out} = this.#ends();
    const upper = zero - button - blade / 2, lower = zero + button + blade / 2, half = (clamp + contact) / 2;
    return `${into}V${upper}H${clamp}C${half} ${upper} ${contact - 30} ${upper + c} ${contact - 14} ${upper + c}H${contact}V${lower + v}H${contact - 14}` +
      `C${contact - 30} ${lower + v} ${half} ${lower} ${clamp} ${lower}H${middle}${out}`;
  }

  /** With the contacts apart what still flows goes into the condenser and out of it. */
  #throughCondenser() {
    const {zero} = this.place, {middle, into, out} = this.#ends();
    return `${into}V${zero - 3}M${middle} ${zero + 3}${out}`;
  }
}
