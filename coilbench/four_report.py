"""A set of four in words, as a table and as a small picture: `python3 course.py bench SHEET.csv --four`."""

from __future__ import annotations

import base64
import html
import io
import math
import sys
from collections.abc import Sequence
from pathlib import Path

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from coilbench.card import CAUTIONS, in_a_hundred, wrapped
from coilbench.four import (
    BENCH_RPM,
    ORDER,
    SET,
    SPEEDS,
    Candidate,
    FourSet,
    Place,
    angles_of,
    best_set,
    candidates,
    kinds_of,
    likely,
)
from coilbench.four_make import likely_beside, stands_for_its_make
from coilbench.looks import WIDTH, hue, hues
from coilbench.makes import COURSE, by_make, known_of, not_believed, store_for
from coilbench.sheet import Sheet, standing
from coilbench.study_report import html_page, html_table
from coilbench.units import shown
from coilmodel.durable import put
from coilmodel.progress import bar

MOST = 12  # coils out of which a set is chosen
Three = tuple[float, float, float]

SET_CAUTION = (
    f"Set one coil at a time, a hair of bending at a time, on the bench at {BENCH_RPM:g} rpm and full drive. Then count its "
    f"sparks at {', '.join(f'{rpm:g}' for rpm in SPEEDS)} rpm: where it is not exactly one in every pulse, put it back to where "
    "it was, whatever this page says. " + CAUTIONS)

OWN_MAKE = "By the sheet's column 'make' the four are imagined coils of the course's own make. A real coil is not."
NO_KNOWN = ("no coil of the sheet stands for the make of these four, so there is nothing to set them by. Read one coil of the "
            "same make that runs well, on the same magneto (sparks and opening current at two of 200, 300, 450 and 600 rpm, full "
            "drive), and mark it with yes in the column 'known_good'; till then leave the four as they are")
SEVERAL = ("the coils that may be taken are of several makes ({makes}), and a set is of one make; name coils of one of them "
           "behind --four")
OTHER_MAKE = ("Reckoned beside the known-good {known}, for coils of that make on the same magneto: a current named here is in "
              "{known}'s amperes, and an angle tells how a coil fires against the others, while where all of them fire depends "
              "on the make and may be off. If {known} is not good, all of this is wrong.")
NO_CURRENT = ("{known} marked as known good, but without the readings that the other coils could be set by (sparks and opening "
              "current at two of 200, 300, 450 and 600 rpm, full drive). ")


# ------------------------------------------------------------------------------------------------------------ the command
def four_of_sheet(sheet: Sheet, names: Sequence[str], windows: str | None, path: Path, order: str | None = None) -> int:
    """Print the best set out of the coils of `sheet` and write it as a page; 0: done, 1: it could not be.

    names: the coils that may be taken, none for all; windows: degrees by which each cylinder's window closes late, as text with
    commas, None for all alike; path: the sheet's, beside which the page goes; order: the cylinders' numbers as they fire, as
    text with commas, None for ORDER
    """
    try:
        late, fire = windows_of(windows), order_of(order)
        chosen = coils_of(sheet, names)
    except ValueError as error:
        print(error, file=sys.stderr)
        return 1
    try:
        found, make = set_of(sheet, chosen, late, fire)
    except ValueError as error:
        print(error, file=sys.stderr)
        return 1
    tables = (table(found), wrapped(LEGEND), angle_table(found), scatter_table(found))
    print("\n\n".join([*map(wrapped, summary(found)), *tables, wrapped(make), wrapped(SET_CAUTION)]))
    page = path.with_name(f"{path.stem}_four.html")
    try:
        if not put(page, as_page(found, make).encode(), f"<title>{TITLE}</title>"):
            print(f"{page}: exists and is no page of this command, so it is left as it is; move it away for the page.",
                  file=sys.stderr)
            return 1
    except OSError as error:
        print(f"{page}: cannot be written ({error.strerror or error}).", file=sys.stderr)
        return 1
    print(f"\n  The same with a picture: {page}")
    return 1 if found.fewer else 0


def set_of(sheet: Sheet, chosen: Sequence[str], late: Sequence[float], fire: Sequence[int]) -> tuple[FourSet, str]:
    """Return the best set out of the coils `chosen`, and in sentences what make they are taken for.

    They are reckoned beside the coil of their make that the sheet marks as known good, whether it may go into the set or not;
    without one only coils of the course's own make can be. late: of `windows_of`; fire: of `order_of`
    Raises ValueError in one sentence.
    """
    parted = by_make(sheet.coils)
    makes = [make for make, coils in parted.items() if set(coils) & set(chosen)]
    if len(makes) > 1:
        raise ValueError("four: " + SEVERAL.format(makes=", ".join(make or "none said" for make in makes)) + ".")
    coils = parted[makes[0]]
    readings = {name: standing(list(rows)) for name, rows in coils.items()}
    known = known_of(coils, readings)
    store = store_for(coils, readings) if known else None
    which = None
    beside = store is not None and stands_for_its_make(store, [readings[name] for name in known])
    if not beside and makes[0] != COURSE:
        why = not_believed(coils, readings) + (NO_CURRENT.format(known=" and ".join(known)) if known else "")
        raise ValueError(f"four: {why}{NO_KNOWN}.")
    if store is not None and beside:
        own, which = likely_beside(readings, chosen, store, known, kinds_of(late), bar)
    else:
        own = {name: likely(readings[name], progress=bar) for name in chosen}
    runs = sum(len(coils) for coils, _, _ in own.values())
    print(f"{len(own)} coils, {runs} imagined ones that agree with their readings", file=sys.stderr)
    found = best_set(candidates(own, kinds_of(late), bar, which), late, order=fire)
    return found, not_believed(coils, readings) + said_of_make(known, which is not None)


def said_of_make(known: Sequence[str], used: bool) -> str:
    """Return in sentences what make the coils are taken for.

    known: names of the known-good ones; used: whether the set is reckoned by them
    """
    names = " and ".join(known)
    if used:
        return OTHER_MAKE.format(known=names)
    return (NO_CURRENT.format(known=names) if known else "") + OWN_MAKE


def windows_of(text: str | None) -> tuple[float, ...]:
    """Return by how many degrees each cylinder's window closes late. text: four numbers parted by commas, None for all alike.

    >>> windows_of("0, 1.5, -1, 0")
    (0.0, 1.5, -1.0, 0.0)
    """
    if text is None:
        return (0.0,) * SET
    parts = text.split(",")
    try:
        late = tuple(float(part) for part in parts)
    except ValueError as error:
        raise ValueError(f"windows: {shown(text)!r} is not four numbers parted by commas, degrees late from -20 to 20, one for "
                         "each cylinder in the order of firing.") from error
    kinds_of(late)
    return late


def order_of(text: str | None) -> tuple[int, ...]:
    """Return the cylinders' numbers in firing order. text: the four numbers parted by commas or strokes, None for ORDER.

    >>> order_of("1-3-4-2")
    (1, 3, 4, 2)
    """
    if text is None:
        return ORDER
    parts = text.replace("-", ",").split(",")
    if sorted(part.strip() for part in parts) != ["1", "2", "3", "4"]:
        raise ValueError(f"order: {shown(text)!r} is not the cylinders 1, 2, 3 and 4, each once, in the order in which they "
                         "fire, as in 1-2-4-3.")
    return tuple(int(part) for part in parts)


def coils_of(sheet: Sheet, names: Sequence[str]) -> list[str]:
    """Return the coils of `sheet` that may go into the set: those called `names`, or all. Raises ValueError in one sentence."""
    ready = {name.casefold(): name for name, rows in sheet.coils.items()
             if any(reading.kind not in ("gap", "adjusted") for reading in standing(rows))}
    wanted = [part.strip() for name in names for part in ([name] if name.casefold() in ready else name.split(","))]
    wanted = [name for name in wanted if name]
    for name in wanted:
        if name.casefold() not in ready:
            there = ", ".join(list(ready.values())[:20]) or "none"
            raise ValueError(f"There is no coil '{shown(name)}' with readings in the sheet; there are {there}.")
    chosen = list(dict.fromkeys(ready[name.casefold()] for name in wanted)) or list(ready.values())
    if len(chosen) < SET:
        verb = "is" if len(chosen) == 1 else "are"
        raise ValueError(f"A set needs four coils with readings; there {verb} {len(chosen)} ({', '.join(chosen) or 'none'}).")
    if len(chosen) > MOST:
        raise ValueError(f"A set is chosen out of at most {MOST} coils, and here are {len(chosen)}; name those that may be "
                         "taken, as in --four Alder Birch Cedar Damson Elm.")
    return chosen


# ------------------------------------------------------------------------------------------------------------------ words
def degrees(three: Three) -> str:
    """Return a scatter with its limits, as people say it.

    >>> degrees((1.234, 0.5, 2.0))
    '1.2 degrees (0.5 to 2.0)'
    """
    middle, low, high = three
    return f"{middle:.1f} degrees ({low:.1f} to {high:.1f})" if math.isfinite(middle) else "unknown, for too few of them fire"


def summary(found: FourSet) -> list[str]:
    """Return what can be done for the set, a few sentences a paragraph."""
    alike = len(set(found.windows)) == 1
    speeds = f"{SPEEDS[0]:g} to {SPEEDS[-1]:g} rpm"
    lines = [f"Left as they are, {_names(found.found)} fire within {degrees(found.before.mean)} of crank of each other, earliest "
             f"to latest, mean over {speeds}. (The limits hold nine in ten of the imagined sets that agree with the readings.)"]
    spare = {place.coil.name for place in found.chosen} != {place.coil.name for place in found.found}
    if alike and not spare:
        lines.append("The timer's windows are alike, so it makes no difference which cylinder gets which coil"
                     + ("; and no other four of these coils lie closer together as they are." if len(found.found) else "."))
    else:
        what = "The best four as they are" if spare else "The best places as they are"
        lines.append(f"{what}: {_places(found, found.chosen)}; then they lie within {degrees(found.assigned.mean)}.")
    bent = [place for place in found.adjusted if place.current is not None]
    if found.worth:
        lines.append(f"Set as told below, {_places(found, found.adjusted)} lie within {degrees(found.after.mean)}: "
                     f"{degrees(found.gain)} less, with a hand's errors of setting, and with coils put back that do not fire "
                     "once where they were set.")
    elif bent and not found.fewer:
        why = "too few of them fire as they are to say what bending would save"
        if math.isfinite(found.gain[0]):
            why = f"what bending would save is {degrees(found.gain)}, which may as well be nothing"
        lines.append(f"Advice: leave them as they are: {why}. Surer readings of each coil would tell more; the settings below "
                     "are what would be tried.")
    elif not found.fewer:
        lines.append("Advice: leave them as they are. No setting that a hand can follow brings them closer without a risk to the "
                     "one spark in every pulse.")
    lines += [_useless(coil) for coil in found.useless]
    if found.fewer:
        lines.append(f"So there are {len(found.adjusted)} coils that can be set, and a set needs four. Mend the others, take "
                     "their readings again, or add a spare.")
    rough = [place.coil.name for place in bent if place.coil.once_at(place.current) < 0.9]
    if rough:
        lines.append(f"Of {', '.join(rough)} the readings tell too little to be sure that the new setting keeps one spark in "
                     "every pulse; count after setting, and put back what does not.")
    return lines


def _names(places: Sequence[Place]) -> str:
    names = [place.coil.name for place in places]
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else "".join(names)


def _places(found: FourSet, places: Sequence[Place]) -> str:
    if len(set(found.windows)) == 1:
        return _names(places)
    return ", ".join(f"cylinder {found.order[place.cylinder]} {place.coil.name}" for place in places)


def _useless(coil: Candidate) -> str:
    why = ""
    if coil.verdict is not None:
        cause, odds = coil.verdict.odds[0]
        why = f" Likeliest cause: {cause.name}, {in_a_hundred(odds)}. {cause.remedy}" if cause.what else ""
    return f"{coil.name}: no setting of its vibrator is likely to give exactly one spark in every pulse at all speeds.{why}"


TITLE = "A set of four"
HEAD = ("cyl.", "coil", "opens at", "set it to", "by hand", "once: now", "then")
"""Columns of the table of settings; the last two are odds of one spark in every pulse at all speeds, in a hundred."""

LEGEND = ("once: how many in a hundred imagined coils that agree with the readings fire exactly once in every pulse at all "
          "speeds, now and where set. By hand: bend the vibrator that way by about so much, then read the opening current again.")

LEAVE = "leave it"
SHORT = 14  # letters of a coil's name in the terminal's table, which is to fit 80 columns


def rows(found: FourSet) -> list[list[str]]:
    """Return the table's rows: what to set each coil to, what a hand does for it, and what comes of it."""
    lines = []
    for place in found.adjusted:
        coil, opens = place.coil, place.coil.found_current()
        lines.append([_cylinder(found, place), coil.name, f"{opens:.1f} A" if math.isfinite(opens) else "never",
                      "-" if place.current is None else f"{place.current:.2f} A", by_hand(opens, place.current),
                      _odds(coil.once_at(None)), _odds(coil.once_at(place.current))])
    return lines


def _cylinder(found: FourSet, place: Place) -> str:
    return str(found.order[place.cylinder])


def _odds(share: float) -> str:
    """Return odds in a hundred, never a certainty."""
    return ">99" if share > 0.99 else "<1" if share < 0.01 else f"{100.0 * share:.0f}"


def by_hand(now: float, current: float | None) -> str:
    """Return what a hand does to bring the opening current from `now` to `current` (A): direction, about how much; read again.

    >>> by_hand(5.0, 5.2), by_hand(5.0, None)
    ('up a hair', 'leave it')
    """
    if current is None:
        return LEAVE
    if not math.isfinite(now):
        return "up, a hair at a time"
    change = math.log(current / now)
    much = "a hair" if abs(change) < 0.06 else "a little" if abs(change) < 0.15 else "well"
    return f"{'up' if change > 0.0 else 'ease'} {much}"


ANGLE_HEAD = ("cyl.", "coil", f"fires at {BENCH_RPM:g} rpm: now", "where set")
"""Columns of the table of angles: degrees of crank from the top, minus before it, with limits of nine in ten."""


def angle_rows(found: FourSet) -> list[list[str]]:
    """Return where each coil fires, now and where it is set, as rows."""
    column = SPEEDS.index(BENCH_RPM)
    return [[_cylinder(found, place), place.coil.name,
             _angle(angles_of(Place(place.cylinder, place.coil, None), found.windows)[column]),
             _angle(angles_of(place, found.windows)[column])] for place in found.adjusted]


def _angle(three: Three) -> str:
    middle, low, high = three
    return f"{middle:.1f} ({low:.1f} to {high:.1f})" if math.isfinite(middle) else "no spark"


def table(found: FourSet) -> str:
    """Return the settings as a table in plain text."""
    return _plain([list(HEAD), *(_shortened(line) for line in rows(found))])


def angle_table(found: FourSet) -> str:
    """Return the angles as a table in plain text."""
    return _plain([list(ANGLE_HEAD), *(_shortened(line) for line in angle_rows(found))])


def _shortened(line: list[str]) -> list[str]:
    return [line[0], line[1] if len(line[1]) <= SHORT else line[1][:SHORT - 3] + "...", *line[2:]]


def scatter_rows(found: FourSet) -> list[list[str]]:
    """Return the scatter at each speed, before and after, as rows."""
    lines = [[f"{rpm:g} rpm", _span(found.before.at[i]), _span(found.assigned.at[i]), _span(found.after.at[i])]
             for i, rpm in enumerate(SPEEDS)]
    return [*lines, ["mean", _span(found.before.mean), _span(found.assigned.mean), _span(found.after.mean)]]


SCATTER_HEAD = ("degrees", "left as found", "best as they are", "set")
"""Columns of the table of scatter: earliest to latest, degrees of crank."""


def scatter_table(found: FourSet) -> str:
    """Return the scatter as a table in plain text."""
    return _plain([list(SCATTER_HEAD), *scatter_rows(found)])


def _span(three: Three) -> str:
    middle, low, high = three
    return f"{middle:.2f} ({low:.2f} to {high:.2f})" if math.isfinite(middle) else "unknown"


def _plain(lines: list[list[str]]) -> str:
    widths = [max(len(line[column]) for line in lines) for column in range(len(lines[0]))]
    return "\n".join("  " + "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
                     for line in lines)


# ---------------------------------------------------------------------------------------------------------------- picture
MARKERS = "osD^vP<>h"


def figure(found: FourSet) -> Figure:
    """Return the set as a picture: where each coil fires over the speed, as found and when set; bars hold nine in ten."""
    drawn = Figure(figsize=(WIDTH, 2.9), layout="constrained", facecolor="white")
    FigureCanvasAgg(drawn)
    left, right = drawn.subplots(1, 2, sharey=True)
    look = hues()["light"]
    names = list(dict.fromkeys(place.coil.name for place in (*found.found, *found.adjusted)))  # one shape a coil, on both sides
    for axes, title, places in ((left, "As found", found.found), (right, "Set", found.adjusted)):
        for number, place in enumerate(places):
            angles = angles_of(place, found.windows)
            shift = 6.0 * (number - 1.5)  # rpm, so that bars do not hide each other
            speeds = [rpm + shift for rpm in SPEEDS]
            middle = [three[0] for three in angles]
            axes.plot(speeds, middle, marker=MARKERS[names.index(place.coil.name) % len(MARKERS)], markersize=4.5,
                      markerfacecolor="none", color=hue("secondary"), linewidth=1.0, label=place.coil.name)
            for speed, (_, low, high) in zip(speeds, angles, strict=True):
                axes.plot([speed, speed], [low, high], color=look["edge"], linewidth=0.9)
        axes.set_title(title, loc="left", fontsize=9, fontweight="bold")
        axes.set_xlabel("crank speed (rpm)", fontsize=8)
        axes.tick_params(labelsize=7)
        axes.grid(color=look["rule"], linewidth=0.5)
        if places:
            axes.legend(fontsize=6.5, ncols=2)
    left.set_ylabel("first spark, from the top (degrees)", fontsize=8)
    return drawn


def alt(found: FourSet) -> str:
    """Return the picture in words."""
    def told(places: Sequence[Place]) -> str:
        return "; ".join(f"{place.coil.name} {', '.join(f'{three[0]:.1f}' for three in angles_of(place, found.windows))}"
                         for place in places)

    speeds = ", ".join(f"{rpm:g}" for rpm in SPEEDS)
    return (f"Two charts of the first spark in degrees from the top at {speeds} rpm. As found: {told(found.found)}. "
            f"Set: {told(found.adjusted)}.")


def png(found: FourSet, dpi: int = 130) -> bytes:
    """Return the picture as a PNG of `dpi` dots an inch."""
    buffer = io.BytesIO()
    figure(found).savefig(buffer, format="png", dpi=dpi, metadata={"Software": None})
    return buffer.getvalue()


def as_page(found: FourSet, make: str = OWN_MAKE) -> str:
    """Return the set as one page of HTML that loads nothing; `make` says what make the coils are taken for."""
    image = base64.b64encode(png(found)).decode()
    body = [f"<p>{html.escape(line)}</p>" for line in summary(found)]
    body += [html_table(HEAD, rows(found)), f"<p>{html.escape(LEGEND)}</p>", html_table(ANGLE_HEAD, angle_rows(found)),
             f'<p><img alt="{html.escape(alt(found))}" src="data:image/png;base64,{image}"></p>',
             "<h2>The scatter</h2>", html_table(SCATTER_HEAD, scatter_rows(found)),
             f"<p>{html.escape(make)}</p>", f'<p class="caution">{html.escape(SET_CAUTION)}</p>']
    return html_page(TITLE, body)
