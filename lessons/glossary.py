"""The trade's words, each with one plain sentence and the lesson that shows it: the one source of the book's glossary.

Plain data. To add a word, add a `Term`; `tests/lessons/test_glossary.py` sees to it that its lesson exists and uses the word.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent


@dataclass(frozen=True)
class Term:
    """A word of the trade: one `sentence` that says what it is, the number of the `lesson` that shows it, other names for it."""

    word: str
    sentence: str
    lesson: int
    also: tuple[str, ...] = ()


TERMS = (
    Term("advance", "The lever moved so that the timer closes earlier; the spark follows only from step to step.", 8),
    Term("arc",
         "The hot bridge of current between contacts that part too slowly; it burns them, and what it burns the spark lacks.", 3),
    Term("available voltage",
         "The highest voltage that the secondary would reach if no gap fired; it must be well above what the gap needs.", 2),
    Term("average",
         "What a meter shows that lets the two directions of a current cancel; of a magneto's it shows next to nothing.", 7),
    Term("bench sheet", "The table in which you keep what you have measured on a coil, one row a reading.", 10),
    Term("bounce", "The short re-opening of contacts that have just closed; harmless while the gap stays silent.", 5),
    Term("box", "The case that holds coil and condenser, with the contact set on its lid.", 0),
    Term("bridge", "The rigid stop above the cushion blade, against which the pair of contacts lies when no current flows.", 0),
    Term("buzz", "What a coil does when it runs by itself on a battery; it says that the contacts part, and not how well.", 7),
    Term("capacity", "How much charge a condenser takes for each volt, in microfarads.", 3),
    Term("coil card", "What one coil's readings say of it: likely cause and next step.", 10),
    Term("condenser", "Takes the current over as the contacts part, so that they do not burn and the flux collapses fast.", 3),
    Term("condenser check", "Capacity, then self-discharge, measured with the contacts held apart: two tests and not one.", 9),
    Term("contact force", "How hard the two contacts press on each other; at nothing they part.", 5),
    Term("contact voltage",
         "The voltage across the contacts and their condenser; it races with what the growing gap can hold.", 2),
    Term("contacts", "The two small faces that carry the primary current and cut it off by parting.", 0, ("points",)),
    Term("core", "The bundle of iron wires inside the windings, a magnet while current flows.", 0),
    Term("coupling", "How much of the flux of one winding goes through the other as well: all of it would be one.", 2),
    Term("crank angle", "How far the crank has turned since the pulse began; the time scale of an engine.", 1),
    Term("cushion blade",
         "The upper, lighter spring with the upper contact: it gives the pair a running start.", 5, ("cushion spring",)),
    Term("drive", "How strong the magneto is, in percent of its rated strength.", 1),
    Term("dynamics", "What the moving parts do: they have mass and need time, while the current goes on growing.", 4),
    Term("early parting",
         "Contacts that come apart before the cushion is on its rivet: early on the way, at a crawl, not on the clock.", 5),
    Term("EMF", "The voltage that a magneto or a winding makes, before any of it is lost in resistance.", 1),
    Term("filling", "Wax or pitch, poured in round the windings: it keeps damp out, and the heat in.", 0),
    Term("firing angle", "The crank angle at which the spark comes.", 8),
    Term("firing order", "The order in which the cylinders fire, and so the order in which the timer serves the coils.", 8),
    Term("flux", "The magnetism that goes through a winding; a change of it makes voltage, its collapse makes the spark.", 1),
    Term("flux-limited", "Turned fast: the current is set by the magnets alone, and more speed gives no more of it.", 1),
    Term("flywheel", "The engine's heavy wheel, which carries the magneto's magnets past its coils.", 1),
    Term("follow", "The way that the upper contact goes down together with the lower one, still closed.", 5, ("follow travel",)),
    Term("inductance", "How much flux a winding makes for each ampere, and so how slowly its current grows.", 1),
    Term("insulation", "What keeps windings and layers apart: paper, cloth, varnish; where it fails, turns are shorted.", 2),
    Term("leakage", "The current that a condenser lets through where it should let none.", 3),
    Term("lever", "The handle on the steering column that moves the timer's windows earlier or later.", 8),
    Term("limit rivet",
         "The head below the cushion blade that stops the upper contact, so that the lower one leaves it at speed.", 0),
    Term("magnet", "Steel that keeps its magnetism; on the flywheel north and south stand by turns.", 1),
    Term("magneto", "Magnets that go past coils of wire: the faster they pass, the more voltage.", 1),
    Term("magneto coil", "One of the fixed coils of wire that the magnets pass; all of them together make the EMF.", 1),
    Term("matched set", "Coils that all fire at the same crank angle, whatever the force of their springs.", 8),
    Term("misfire", "A pulse without a spark strong enough to light the charge, whatever else it has.", 6),
    Term("multi-firing", "More than one spark in a pulse; what goes into those after the first is lost to the engine.", 6),
    Term("odds", "How many of a hundred coils that read so would have a cause: of what is known, not of the coil.", 10),
    Term("opening current", "The primary current at the first parting of a pulse: what the vibrator's preload sets.", 4),
    Term("opening time", "How long after the pulse's start the contacts part.", 0),
    Term("parting speed", "How fast the contacts fly apart as they part; fast enough, and no arc burns.", 5),
    Term("plug gap", "Where the spark jumps, in the plug or on the bench.", 0, ("spark gap",)),
    Term("pole piece", "The soft iron in a magneto coil that leads the magnets' flux through it.", 1),
    Term("preload", "How hard a blade presses before anything moves: what you change when you bend it.", 4),
    Term("primary", "The winding of few turns of thick wire, through which the magneto's current flows.", 0),
    Term("pulse", "One push of the magneto's current, from nothing to nothing; it should end in one spark.", 0),
    Term("rectified mean",
         "The average of a current with its negative half turned up: what many meters show as alternating current.", 7),
    Term("resistance-limited",
         "Turned slowly: the current is the magneto's voltage over the resistance, and grows with speed.", 1),
    Term("retard", "The lever moved so that the timer closes later, as for cranking by hand.", 8),
    Term("ring", "The swinging of coil and condenser after the break, dying away as a struck bell does.", 2),
    Term("RMS",
         "The steady current that would heat as much; a meter that says so is not nearer to the opening current for it.", 7),
    Term("roller", "The timer's moving contact, which goes round at half the crank's speed.", 8),
    Term("scatter", "How much a reading differs from pulse to pulse.", 8),
    Term("secondary", "The winding of thousands of turns of thin wire, which makes the high voltage.", 2),
    Term("segment", "The piece of metal in the timer, one for each coil, that the roller touches: its length is the window.", 8),
    Term("self-discharge", "The slow loss of voltage of a condenser left alone: the way to measure its leakage.", 3),
    Term("shorted turn", "A turn whose ends touch: it eats the collapsing flux and with it the spark.", 2),
    Term("snap-over",
         "The place from which the core's pull grows faster than the spring's force, so that the blade flies to the core.", 4),
    Term("spark ladder",
         "Our main picture: crank angle across, pulses upward, a mark a spark; a good coil draws one straight column.", 0),
    Term("sparks per pulse", "The count that should be exactly one; it does not say how strong that one is.", 6),
    Term("staircase", "The firing angle drawn over the place of the lever: flat steps, and a jump from each to the next.", 8),
    Term("statics", "What forces alone say, as if the current grew ever so slowly.", 4),
    Term("stiffness", "How much harder a blade presses for each millimetre that it is bent.", 4),
    Term("strip", "A trace over time; strips stack over one time axis.", 4),
    Term("tension map", "Sparks per pulse over two settings at once, with your own setting marked.", 6),
    Term("terminals", "Where wires are joined to the box: two for the primary's current, one for the high voltage.", 0),
    Term("the top", "Top dead centre, the piston at the end of its way up; angles are counted from it.", 8, ("top dead centre",)),
    Term("timer", "The switch on the engine that lets one coil at a time have the magneto's current.", 8),
    Term("turns ratio", "How many turns the secondary has for each one of the primary.", 2),
    Term("vibrator", "The lower, iron-tipped spring with the lower contact, which the core pulls down.", 4, ("vibrator blade",)),
    Term("window", "The stretch of crank angle for which the timer lets current through.", 8),
)
"""In alphabetical order."""


def lesson_file(lesson: int) -> str:
    """Return the file name of a lesson's notebook; ValueError if there is no such lesson."""
    found = sorted(path.name for path in HERE.glob(f"{lesson:02}_*.ipynb"))
    if not found:
        raise ValueError(f"lesson: there is no lesson {lesson}; a word of the glossary points to it.")
    return found[0]
