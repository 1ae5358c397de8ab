"""The glossary's page: a labelled picture of the contact set, drawn from the model's dimensions, and the trade's words."""

from __future__ import annotations

from coilbench import looks
from coilmodel import Machine, MagnetoDrive, simulate
from lessons.glossary import TERMS, lesson_file

WIDTH, HIGH = 536, 476
PER_MM = 215.0  # pixels for each millimetre of movement; lengths and thicknesses are not to scale
BUTTON, BLADE, TIPPED = 18, 11, 5  # thickness of a contact, of a blade, of the vibrator's iron tip
FRAME, CONTACT, TIP, PIN = 34, 196, 322, 300  # where things stand, from the left
TOP = 74  # the bridge's lower face


def glossary_page() -> str:
    """Return the page as MyST Markdown. Sphinx gives each word an anchor ("term-limit-rivet") and puts it into the index."""
    lines = [
        "# Words of the trade", "",
        "The words that the lessons use, in a sentence each, with the lesson that shows it.", "",
        "```{raw} html", contact_set(Machine()), "```", "",
        "*The contact set at the moment when its contacts are widest apart. Heights are to scale, lengths and thicknesses are "
        "not; the measures are the model's.*", "",
        "```{glossary}",
    ]
    for term in TERMS:
        link = f"[Lesson {term.lesson}](lessons/{lesson_file(term.lesson)})"
        lines += [term.word, *term.also, f"  {term.sentence} {link}", ""]
    return "\n".join([*lines[:-1], "```", ""])


def widest_apart(machine: Machine) -> tuple[float, float]:
    """Return where lower and upper contact are (m, downward from the rivet position) when a pulse has them widest apart."""
    strips = simulate(machine, MagnetoDrive(450.0), pulses=1, warm_up=4, record=(0, 0)).strips
    return max(zip(strips.vibrator, strips.cushion, strict=True), key=lambda pair: pair[0] - pair[1])


def contact_set(machine: Machine) -> str:
    """Return an SVG of the contact set at the moment when its contacts are widest apart, heights to scale, every part named."""
    travel, stop = 1e3 * machine.cushion.travel * PER_MM, 1e3 * machine.vibrator.stop * PER_MM
    low = min(1e3 * widest_apart(machine)[0] * PER_MM, stop)  # the core is a hard spring in the model and gives way a little
    blade_top = TOP + travel  # the cushion blade's upper face, with the cushion on its rivet
    meet = blade_top + BLADE + BUTTON  # where the faces of the contacts met
    lower = meet + low
    core = meet + stop + BUTTON + BLADE + TIPPED
    apart = low / PER_MM
    bar = 0.1 * PER_MM
    right = 414  # the condenser's leads
    middle = (blade_top + lower + BUTTON + BLADE) / 2.0
    words = (
        f"The contact set when its contacts are widest apart, {apart:.2f} mm, the vibrator at the core. From above: the bridge; "
        f"the cushion blade with the upper contact, {1e3 * machine.cushion.travel:.2f} mm below it, stopped by the limit rivet; "
        "the lower contact on the vibrator blade; the core with the primary and the secondary round it. The condenser lies "
        "across the contacts; the secondary goes to the plug gap."
    )
    parts = [
        f'<title id="contact-set-title">The contact set</title><desc id="contact-set-words">{words}</desc>',
        # frame and bridge
        _box(FRAME - 22, TOP - 14, 22, core - TOP + 14, "steel"),
        _box(FRAME, TOP - 14, PIN + 22 - FRAME, 14, "steel", f'id="bridge" data-bottom="{TOP}"'),
        # core, with one side of each winding cut open on either hand
        _box(CONTACT - 30, core, 60, HIGH - 34 - core, "steel"),
        *(_box(CONTACT + side, core + 12, 14, HIGH - 58 - core, "copper") for side in (-44, 30)),
        *(_box(CONTACT + side, core + 12, 30, HIGH - 58 - core, "fine") for side in (-74, 44)),
        # blades: from the frame, bent, to their tips
        _blade("upper-blade", "upper", TOP + 0.5 * travel, blade_top),
        _blade("lower-blade", "lower", TOP + 0.5 * travel + BLADE + 2 * BUTTON + 8, lower + BUTTON),
        _box(CONTACT - 34, lower + BUTTON + BLADE, 68, TIPPED, "steel"),
        _box(CONTACT - 14, meet - BUTTON, 28, BUTTON, "upper", 'id="upper-contact"'),
        _box(CONTACT - 14, lower, 28, BUTTON, "lower", 'id="lower-contact"'),
        # the rivet: shank from the bridge, head under the cushion blade
        _box(PIN - 3, TOP, 6, travel + BLADE, "steel"),
        f'<path class="cs-steel" d="M{PIN - 14} {blade_top + BLADE:.1f}h28q-1 11-14 11t-14-11z"/>',
        # the condenser across the contacts, the plug gap on the secondary
        f'<path class="cs-wire" d="M{TIP} {blade_top + BLADE / 2:.1f}H{right}V{middle - 4:.1f}m-15 0h30m-30 8h30m-15 0'
        f'V{lower + BUTTON + BLADE / 2:.1f}H{TIP}"/>',
        f'<path class="cs-wire" d="M{CONTACT + 74} {HIGH - 60}H442V{HIGH - 84}M442 {HIGH - 104}V{HIGH - 128}'
        f'm-12 0h24m-20-5h16m-12-5h8"/>',
        f'<path class="cs-spark" d="M445 {HIGH - 104}l-7 10h7l-6 10"/>',
        # measures
        f'<path class="cs-thin" d="M{CONTACT + 18} {TOP}V{blade_top:.1f}m-5-6l5 6l5-6M{CONTACT + 13} {TOP + 6}l5-6l5 6"/>',
        f'<path class="cs-thin" d="M{CONTACT + 18} {meet:.1f}V{lower:.1f}m-5-6l5 6l5-6M{CONTACT + 13} {meet + 6:.1f}l5-6l5 6"/>',
        f'<path class="cs-thin" id="scale-bar" data-length="{bar:.6f}" '
        f'd="M38 {HIGH - 34 - bar:.1f}v{bar:.1f}m-5 0h10m-10 -{bar:.1f}h10"/>',
        # words
        _text(FRAME + 4, TOP - 22, "bridge"),
        _text(CONTACT + 26, (TOP + blade_top) / 2 + 5, f"{1e3 * machine.cushion.travel:.2f} mm"),
        _text(CONTACT + 26, (meet + lower) / 2 + 5, f"{apart:.2f} mm"),
        _text(CONTACT - 24, blade_top + BLADE + BUTTON, "upper contact", "end"),
        _text(CONTACT + 36, lower + 13, "lower contact"),
        _text(TIP + 8, blade_top - 6, "cushion blade"),
        _text(TIP - 34, lower + BUTTON + BLADE + 20, "vibrator blade"),
        _text(TIP + 8, blade_top + BLADE + 22, "limit rivet"),
        _text(right + 22, middle + 5, "condenser"),
        _text(CONTACT, HIGH - 12, "core", "middle"),
        _text(CONTACT + 84, core + 52, "secondary, outside"),
        _text(CONTACT + 84, core + 74, "primary, inside"),
        _text(462, HIGH - 88, "plug gap"),
        _text(50, HIGH - 40, "0.1 mm"),
    ]
    return (
        f'<svg id="contact-set" class="contact-set" viewBox="0 0 {WIDTH} {HIGH}" role="img" '
        'aria-labelledby="contact-set-title contact-set-words" xmlns="http://www.w3.org/2000/svg">'
        f"<style>{_style()}</style>{''.join(parts)}</svg>"
    )


def _box(x: float, y: float, width: float, height: float, kind: str, more: str = "") -> str:
    return f'<rect class="cs-{kind}" x="{x:.6g}" y="{y:.8g}" width="{width:.6g}" height="{height:.6g}" {more}/>'


def _blade(name: str, kind: str, clamp: float, tip: float) -> str:
    """Draw a blade whose upper face is at `clamp` at the frame and at `tip` from the contact on."""
    bend, level = CONTACT - 50, CONTACT - 18

    def edge(a: float, b: float) -> str:
        return f"C{(FRAME + CONTACT) / 2 - 10} {a:.1f} {bend} {b:.1f} {level} {b:.1f}L{TIP} {b:.1f}"

    back = (f"L{TIP} {tip + BLADE:.1f}L{level} {tip + BLADE:.1f}C{bend} {tip + BLADE:.1f} {(FRAME + CONTACT) / 2 - 10} "
            f"{clamp + BLADE:.1f} {FRAME} {clamp + BLADE:.1f}z")
    return f'<path id="{name}" data-top="{tip:.6f}" class="cs-{kind}" d="M{FRAME} {clamp:.1f}{edge(clamp, tip)}{back}"/>'


def _text(x: float, y: float, words: str, anchor: str = "start") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{words}</text>'


def _style() -> str:
    """Return the picture's colours: the hues of the course, for a light and for a dark page."""
    hues = looks.hues()

    def rules(theme: str, prefix: str) -> str:
        quantity = {name: pair[theme] for name, pair in hues["quantities"].items()}
        look = hues[theme]
        fills = {
            "steel": look["band"], "copper": quantity["contact_voltage"], "fine": quantity["secondary"],
            "upper": quantity["cushion"], "lower": quantity["position"], "spark": quantity["secondary"],
        }
        drawn = "".join(f"{prefix}.cs-{kind}{{fill:{fill};stroke:{look['ink']}}}" for kind, fill in fills.items())
        lines = f"{prefix}.cs-wire,{prefix}.cs-thin{{fill:none;stroke:{look['ink']}}}"
        return f"{drawn}{lines}{prefix}.contact-set text{{fill:{look['ink']}}}"

    return (
        ".contact-set{max-width:36rem;width:100%;height:auto;display:block}.contact-set text{font:16px sans-serif}"
        ".contact-set *{stroke-width:1.5}.contact-set text{stroke:none}.contact-set .cs-wire{stroke-width:2}"
        + rules("light", "") + rules("dark", 'html[data-theme="dark"] ')
    )
