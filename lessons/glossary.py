"""The trade's words, each with one plain sentence and the lesson that shows it: the one source of the book's glossary.

The book marks each word at its first use on a page (`book/_ext/course_words.py`), a notebook lists its words at its top
(`lessons.cells.trade_words`). To add a word, add a `Term`, its plural among the `forms`; `tests/lessons/test_glossary.py` sees to
it that its lesson exists and uses the word, and names each plural in the texts that is no form of it.
"""

from __future__ import annotations

import ast
import json
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

HERE = Path(__file__).resolve().parent


@dataclass(frozen=True)
class Term:
    """A word of the trade: one `sentence` that says what it is, the number of the `lesson` that shows it, other names for it.

    In a text it is found by `word`, `also` and `forms` (its plural and what else stands for it); by capitals only where a form
    has some. Within a phrase of `besides` the same letters mean something else. An `everyday` word, such as "follow", is found by
    its other names and forms, and by itself only where it stands alone, as in *follow*.
    """

    word: str
    sentence: str
    lesson: int
    also: tuple[str, ...] = ()
    forms: tuple[str, ...] = ()
    besides: tuple[str, ...] = ()
    everyday: bool = False

    @property
    def named(self) -> str:
        """The word as it stands over its sentence, with the other names for it: "contacts (points)"."""
        return f"{self.word} ({', '.join(self.also)})" if self.also else self.word

    @property
    def found_by(self) -> tuple[str, ...]:
        """The forms by which a text is searched for it."""
        return (*(() if self.everyday else (self.word,)), *self.also, *self.forms)


TERMS = (
    Term("advance", "The lever moved so that the timer closes earlier; the spark follows only from step to step.", 8,
         besides=("in advance",)),
    Term("alternating current", "A current that changes its direction over and over, as a magneto's and the mains' does.", 3,
         forms=("alternating currents", "alternating voltage")),
    Term("ammeter", "A meter that shows a current, in amperes; it is put into the lead, so that the current goes through it.", 7,
         forms=("ammeters",)),
    Term("arc",
         "The hot bridge of current between contacts that part too slowly; it burns them, and what it burns the spark lacks.", 3,
         forms=("arcs",)),
    Term("available voltage",
         "The highest voltage that the secondary would reach if no gap fired; it must be well above what the gap needs.", 2),
    Term("average",
         "What a meter shows that lets the two directions of a current cancel; of a magneto's it shows next to nothing.", 7,
         everyday=True),
    Term("bench sheet", "The table in which you keep what you have measured on a coil, one row a reading.", 10,
         forms=("bench sheets",)),
    Term("blade", "A flat spring, held fast at one end; each of the two in the contact set carries a contact.", 0,
         forms=("blades",)),
    Term("bounce", "The short re-opening of contacts that have just closed; harmless while the gap stays silent.", 5,
         forms=("bounces",)),
    Term("box", "The case that holds coil and condenser, with the contact set on its lid.", 0, forms=("boxes",),
         besides=("black box", "practice box")),
    Term("breakdown", "The moment at which a gap holds its voltage no longer, and a current jumps across.", 3,
         forms=("breaks down", "break down", "broken down")),
    Term("bridge", "The rigid stop above the cushion blade, against which the pair of contacts lies when no current flows.", 0,
         forms=("bridges",), besides=("a bridge reads", "bridges it")),
    Term("buzz", "What a coil does when it runs by itself on a battery; it says that the contacts part, and not how well.", 7,
         forms=("buzzes", "buzzed", "buzzing")),
    Term("capacity", "How much charge a condenser takes for each volt, in microfarads.", 3),
    Term("coil card", "What one coil's readings say of it: likely cause and next step.", 10, forms=("coil cards",)),
    Term("condenser", "Takes the current over as the contacts part, so that they do not burn and the flux collapses fast.", 3,
         forms=("condensers",)),
    Term("condenser check", "Capacity, then self-discharge, measured with the contacts held apart: two tests and not one.", 9),
    Term("contact force", "How hard the two contacts press on each other; at nothing they part.", 5),
    Term("contact set", "The two blades with their contacts, the bridge and the rivet: what moves on the box, and what stops it.",
         0, forms=("contact sets",)),
    Term("contact voltage", "The voltage across the contacts and their condenser; it races with what the growing gap can hold.",
         2),
    Term("contacts", "The two small faces that carry the primary current and cut it off by parting.", 0, ("points",),
         forms=("contact",), besides=("decimal points",)),
    Term("core", "The bundle of iron wires inside the windings, a magnet while current flows.", 0,
         besides=("Every core of your computer",)),
    Term("coupling", "How much of the flux of one winding goes through the other as well: all of it would be one.", 2,
         forms=("coupled",)),
    Term("crank angle", "How far the crank has turned since the pulse began; the time scale of an engine.", 1,
         forms=("crank angles", "crank's angle", "degrees of crank")),
    Term("CSV", "A plain table in a file, its cells parted by commas, which any spreadsheet reads and writes.", 10),
    Term("current clamp", "A ring that is closed round a wire and measures its current without touching the metal.", 10,
         forms=("current clamps", "current probe", "clamp for direct current")),
    Term("cushion blade", "The upper, lighter spring with the upper contact: it gives the pair a running start.", 5,
         ("cushion spring",), forms=("cushion blades", "cushion springs", "cushion", "cushions")),
    Term("doubt", "What the readings leave open, in bits: one bit is the doubt between two causes that are equally likely.", 10,
         besides=("its doubt", "you to doubt")),
    Term("drive", "How strong the magneto is, in percent of its rated strength.", 1, forms=("drives",),
         besides=("drives the", "drives a", "Drive about")),
    Term("dynamics", "What the moving parts do: they have mass and need time, while the current goes on growing.", 4),
    Term("early parting",
         "Contacts that come apart before the cushion is on its rivet: early on the way, at a crawl, not on the clock.", 5),
    Term("EMF", "The voltage that a magneto or a winding makes, before any of it is lost in resistance.", 1),
    Term("feeler gauge", "A set of thin steel leaves of known thickness, with which a narrow gap is measured.", 9,
         forms=("feeler gauges",)),
    Term("field of ones", "The part of a map in which one sound spark comes in every pulse: where a coil should stand.", 6),
    Term("filling", "Wax or pitch, poured in round the windings: it keeps damp out, and the heat in.", 0),
    Term("firing angle", "The crank angle at which the spark comes.", 8, forms=("firing angles",)),
    Term("firing order", "The order in which the cylinders fire, and so the order in which the timer serves the coils.", 8),
    Term("flux", "The magnetism that goes through a winding; a change of it makes voltage, its collapse makes the spark.", 1),
    Term("flux-limited", "Turned fast: the current is set by the magnets alone, and more speed gives no more of it.", 1),
    Term("flywheel", "The engine's heavy wheel, which carries the magneto's magnets past its coils.", 1, forms=("flywheels",)),
    Term("follow", "The way that the upper contact goes down together with the lower one, still closed.", 5, ("follow travel",),
         forms=("travel",), besides=("contacts travel", "travel down"), everyday=True),
    Term("frequency", "How often in a second a current or a voltage swings to and fro, in hertz.", 1, forms=("frequencies",)),
    Term("half-cycle", "One push of the mains or of a transformer, from nothing to nothing: what a pulse is for a magneto.", 7,
         forms=("half-cycles", "half a cycle")),
    Term("imagined coil", "A coil that is nothing but numbers, well set or with a fault, and was run by the model.", 10,
         forms=("imagined coils",)),
    Term("inductance", "How much flux a winding makes for each ampere, and so how slowly its current grows.", 1),
    Term("insulation", "What keeps windings and layers apart: paper, cloth, varnish; where it fails, turns are shorted.", 2),
    Term("kilovolt", "A thousand volts, kV for short: the measure of the voltage that makes the spark.", 2,
         forms=("kilovolts", "kV")),
    Term("leakage", "The current that a condenser lets through where it should let none.", 3,
         forms=("leak", "leaks", "leaked", "leaking", "leaky"), besides=("for the leakage",)),
    Term("lever", "The handle on the steering column that moves the timer's windows earlier or later.", 8),
    Term("limit rivet",
         "The head below the cushion blade that stops the upper contact, so that the lower one leaves it at speed.", 0,
         forms=("limit rivets", "rivet", "rivets")),
    Term("magnet", "Steel that keeps its magnetism; on the flywheel north and south stand by turns.", 1, forms=("magnets",)),
    Term("magnetic field", "The magnetism that a current makes round it, with the energy that it took to build up.", 3,
         forms=("in the field", "from the field", "field of the coil", "field of this coil")),
    Term("magneto", "Magnets that go past coils of wire: the faster they pass, the more voltage.", 1, forms=("magnetos",)),
    Term("magneto coil", "One of the fixed coils of wire that the magnets pass; all of them together make the EMF.", 1,
         forms=("magneto coils",)),
    Term("matched set", "Coils that all fire at the same crank angle, whatever the force of their springs.", 8,
         forms=("matched sets",)),
    Term("microfarad", "The measure of a condenser's capacity, a millionth of a farad, uF for short.", 3,
         forms=("microfarads", "uF")),
    Term("millijoule", "The measure of a spark's energy, a thousandth of a joule, mJ for short.", 0, forms=("millijoules", "mJ")),
    Term("millisecond", "A thousandth of a second, ms for short.", 7, forms=("milliseconds", "ms")),
    Term("misfire", "A pulse without a spark strong enough to light the charge, whatever else it has.", 6,
         forms=("misfires", "misfired", "misfiring")),
    Term("multi-firing", "More than one spark in a pulse; what goes into those after the first is lost to the engine.", 6),
    Term("noise", "What a scope writes that is not in the current: a small, restless up and down.", 10),
    Term("nominal machine", "The invented coil and magneto of this course, from whose numbers its panels start.", 0,
         forms=("nominal coil", "nominal one", "nominal ones")),
    Term("odds", "How many of a hundred coils that read so would have a cause: of what is known, not of the coil.", 10),
    Term("ohm", "The measure of resistance; a kilohm is a thousand of them, a megohm a million.", 1,
         forms=("ohms", "kilohm", "kilohms", "kohm", "megohm", "megohms", "Mohm")),
    Term("ohmmeter", "A meter that sends a small current of its own through a part and shows its resistance.", 2,
         forms=("ohmmeters",)),
    Term("opening current", "The primary current at the first parting of a pulse: what the vibrator's preload sets.", 4,
         forms=("opening currents",)),
    Term("opening time", "How long after the pulse's start the contacts part.", 0, forms=("opening times",)),
    Term("parting speed", "How fast the contacts fly apart as they part; fast enough, and no arc burns.", 5,
         forms=("speed of parting",)),
    Term("plug gap", "Where the spark jumps, in the plug or on the bench.", 0, ("spark gap",),
         forms=("plug gaps", "spark gaps", "plug's gap")),
    Term("pole", "One end of a magnet, north or south; each pair of them that passes makes one swing of the EMF.", 1,
         forms=("poles",)),
    Term("pole piece", "The soft iron in a magneto coil that leads the magnets' flux through it.", 1, forms=("pole pieces",)),
    Term("preload", "How hard a blade presses before anything moves: what you change when you bend it.", 4, forms=("preloads",)),
    Term("primary", "The winding of few turns of thick wire, through which the magneto's current flows.", 0),
    Term("pulse", "One push of the magneto's current, from nothing to nothing; it should end in one spark.", 0,
         forms=("pulses",)),
    Term("rectified mean",
         "The average of a current with its negative half turned up: what many meters show as alternating current.", 7),
    Term("rectifier", "What lets a current through in one direction only, or turns its negative half up.", 7,
         forms=("rectifiers",)),
    Term("resistance", "What a wire sets against a current for as long as it flows, in ohms; what it takes becomes heat.", 1,
         forms=("resistances",)),
    Term("resistance-limited", "Turned slowly: the current is the magneto's voltage over the resistance, and grows with speed.",
         1),
    Term("resistor", "A part that is made to have a certain resistance; through one a condenser is emptied gently.", 0,
         forms=("resistors",)),
    Term("retard", "The lever moved so that the timer closes later, as for cranking by hand.", 8, forms=("retarded",)),
    Term("ring", "The swinging of coil and condenser after the break, dying away as a struck bell does.", 2,
         forms=("rings", "ringing")),
    Term("RMS", "The steady current that would heat as much; a meter that says so is not nearer to the opening current for it.",
         7),
    Term("roller", "The timer's moving contact, which goes round at half the crank's speed.", 8),
    Term("rpm", "Turns of the crank in a minute, which is the measure of speed all through this course.", 1),
    Term("saturate", "Of iron: to be so full of flux that more current brings hardly any more of it.", 2,
         forms=("saturates", "saturated")),
    Term("scatter", "How much a reading differs from pulse to pulse.", 8, forms=("scatters",)),
    Term("scope", "An instrument that draws a voltage or a current over time, fast enough to see a single pulse.", 10,
         forms=("scopes",)),
    Term("secondary", "The winding of thousands of turns of thin wire, which makes the high voltage.", 2),
    Term("segment", "The piece of metal in the timer, one for each coil, that the roller touches: its length is the window.", 8,
         forms=("segments",)),
    Term("self-discharge", "The slow loss of voltage of a condenser left alone: the way to measure its leakage.", 3),
    Term("shorted turn", "A turn whose ends touch: it eats the collapsing flux and with it the spark.", 2,
         forms=("shorted turns", "turns are shorted")),
    Term("sine", "The even swing to and fro of something that turns steadily, drawn over time.", 1, forms=("sines", "sine-wave")),
    Term("snap-over",
         "The place from which the core's pull grows faster than the spring's force, so that the blade flies to the core.", 4),
    Term("spark ladder",
         "Our main picture: crank angle across, pulses upward, a mark a spark; a good coil draws one straight column.", 0,
         forms=("spark ladders", "ladder", "ladders")),
    Term("sparks per pulse", "The count that should be exactly one; it does not say how strong that one is.", 6,
         forms=("spark per pulse", "sparks a pulse")),
    Term("spring balance", "A hook on a spring with a scale, which shows how hard you pull.", 9, forms=("spring balances",)),
    Term("staircase", "The firing angle drawn over the place of the lever: flat steps, and a jump from each to the next.", 8),
    Term("statics", "What forces alone say, as if the current grew ever so slowly.", 4),
    Term("stiffness", "How much harder a blade presses for each millimetre that it is bent.", 4, forms=("stiffnesses",)),
    Term("strip", "A trace over time; strips stack over one time axis.", 4, forms=("strips",),
         besides=("strip of thin paper", "strip of paper")),
    Term("supply", "What a coil gets its current from: the magneto, a battery or a transformer.", 7, forms=("supplies",)),
    Term("tension map", "Sparks per pulse over two settings at once, with your own setting marked.", 6, forms=("tension maps",)),
    Term("terminals", "Where wires are joined to the box: two for the primary's current, one for the high voltage.", 0,
         forms=("terminal",), besides=("in the terminal",)),
    Term("the charge", "The mixture of air and fuel in the cylinder, which the spark is to light.", 0,
         forms=("light the charge", "lights the charge", "finds the charge"), everyday=True),
    Term("the top", "Top dead centre, the piston at the end of its way up; angles are counted from it.", 8, ("top dead centre",),
         forms=("before the top", "after the top", "crank from the top"), everyday=True),
    Term("timer", "The switch on the engine that lets one coil at a time have the magneto's current.", 8, forms=("timers",)),
    Term("transformer", "Two windings on one core, which make of an alternating voltage a higher or a lower one.", 7,
         forms=("transformers",)),
    Term("turns ratio", "How many turns the secondary has for each one of the primary.", 2),
    Term("vibrator", "The lower, iron-tipped spring with the lower contact, which the core pulls down.", 4, ("vibrator blade",),
         forms=("vibrators", "vibrator blades")),
    Term("well set", "So adjusted that one full spark comes in every pulse, turned slowly or fast.", 0, forms=("well-set",)),
    Term("winding", "Wire laid round the core turn beside turn; a coil has two, the primary and the secondary.", 0,
         forms=("windings",)),
    Term("window", "The stretch of crank angle for which the timer lets current through.", 8, forms=("windows",),
         besides=("window of its own", "in their windows")),
)
"""In alphabetical order."""


def lesson_file(lesson: int) -> str:
    """Return the file name of a lesson's notebook; ValueError if there is no such lesson."""
    found = sorted(path.name for path in HERE.glob(f"{lesson:02}_*.ipynb"))
    if not found:
        raise ValueError(f"lesson: there is no lesson {lesson}; a word of the glossary points to it.")
    return found[0]


@cache
def _search() -> tuple[re.Pattern[str], dict[str, Term | None]]:
    """Return what finds every form in a text, the longest first, and {form: its term, or None where it means something else}."""
    meant: dict[str, Term | None] = {phrase: None for term in TERMS for phrase in term.besides}
    meant |= {form: term for term in TERMS for form in term.found_by}
    either = "|".join(_pattern(form) for form in sorted(meant, key=lambda form: (-len(form), form)))
    return re.compile(rf"(?<![\w-])(?:{either})(?![\w-])"), {form.casefold(): term for form, term in meant.items()}


def _pattern(form: str) -> str:
    """Return a form as a regular expression: a space may be a line's end, a capital stays one, an apostrophe has two shapes."""
    words = r"\s+".join(re.escape(word).replace("'", "['\u2019]") for word in form.split(" "))
    return words if form != form.lower() else f"(?i:{words})"


def uses(text: str) -> list[tuple[int, int, Term]]:
    """Return (begin, end, term) of each use of a word of the trade in `text`, in order."""
    pattern, meant = _search()
    alone = next((term for term in TERMS if term.everyday and term.word == text), None)
    found = [(0, len(text), alone)] if alone else []
    for use in pattern.finditer(text):
        term = meant[" ".join(use[0].split()).replace("\u2019", "'").casefold()]
        if term is not None:
            found.append((use.start(), use.end(), term))
    return found


def words_of(lesson: int) -> tuple[Term, ...]:
    """Return the words of the trade that the text of a lesson uses, in alphabetical order; ValueError as for `lesson_file`."""
    cells = json.loads((HERE / lesson_file(lesson)).read_text(encoding="utf-8"))["cells"]
    said = [text for cell in cells for text in texts(cell["cell_type"], "".join(cell["source"]))]
    used = {term for text in said for _, _, term in uses(text)}
    return tuple(term for term in TERMS if term in used)


def texts(kind: str, source: str) -> list[str]:
    """Return what a reader reads of a cell: the text itself, or what is handed to `say`."""
    if kind == "markdown":
        text = re.sub(r"^#.*$|<[^>]*>|\$[^$]*\$|`[^`]*`", " ", source, flags=re.MULTILINE)
        return [text, *re.findall(r"(?<!\*)\*(\w+)\*(?!\*)", text)]
    said = [node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name) and node.func.id == "say" and node.args]
    given = [node.args[0].value for node in said if isinstance(node.args[0], ast.Constant)]
    return [re.sub(r"{[^}]*}", " ", text) for text in given if isinstance(text, str)]
