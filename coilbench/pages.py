"""What the book shows of the bench: the example's coil cards, and how often the bench is right, drawn from calibrated.json."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from html import escape
from pathlib import Path
from typing import Any

from coilbench import stored
from coilbench.card import Card, view
from coilbench.card_html import as_html, card_style
from coilbench.cards import Folder, file_names, write_card, write_list
from coilbench.causes import BY_KEY, HYPOTHESES
from coilbench.errors import NAMED
from coilbench.home import FILE
from coilbench.larkfield import SHEET
from coilbench.looks import hues
from coilbench.sheet import read_sheet, standing
from coilbench.trial import ENOUGH_COILS, RESULT
from coilbench.verdict import NUMBERS

ROOT = Path(__file__).resolve().parents[1]
MAKES = ROOT / "coilbench" / "makes.json"
STAMP = "made_of.txt"


# ------------------------------------------------------------------------------------------------------- the cards
def cards_for_book(folder: Path, say: Callable[[str, int, int], None] | None = None) -> list[Path]:
    """Write the example's coil cards into `folder`, unless they are there and nothing they depend on has changed.

    Return the files: for each coil a page, a part of a page (.part) and a PDF. say : progress (what, done, of how many)
    """
    stamp, now = folder / STAMP, digest()
    if not (stamp.is_file() and stamp.read_text(encoding="utf-8") == now):
        stamp.unlink(missing_ok=True)
        _write_cards(folder, say)
        stamp.write_text(now, encoding="utf-8")
    return sorted(path for path in folder.iterdir() if path.suffix in (".html", ".pdf", ".part"))


def _write_cards(folder: Path, say: Callable[[str, int, int], None] | None) -> None:
    sheet, place = read_sheet(SHEET), Folder(folder)
    cards: dict[str, Card] = {}
    stems = file_names(list(sheet.coils))
    for number, (name, stem) in enumerate(stems.items(), 1):
        readings = standing(sheet.coils[name])
        cards[stem] = view(name, readings, stored.judge(readings), sheet.coils[name])
        if say:
            say("Coil cards", number, len(stems))
        write_card(place, stem, cards[stem], SHEET.name)
        (folder / f"{stem}.part").write_text(as_html(cards[stem], SHEET.name, part=True, home=FILE), encoding="utf-8")
    write_list(place, cards, SHEET.name)


def digest() -> str:
    """Return a digest of all that the example's cards depend on."""
    found = hashlib.sha256()
    sources = [path for package in ("coilmodel", "coilbench") for path in (ROOT / package).rglob("*")]
    for path in sorted([*sources, SHEET]):
        if path.suffix in (".py", ".json", ".j2", ".css", ".csv", ".md") and path not in (RESULT, MAKES):
            found.update(path.relative_to(ROOT).as_posix().encode() + path.read_bytes())
    return found.hexdigest()


def cards_markdown(folder: Path, link: str) -> str:
    """Return the cards as a piece of a page of the book. folder : of `cards_for_book`; link : where the reader finds it."""
    found = [f"<style>{card_style()}</style>"]
    for name, stem in file_names(list(read_sheet(SHEET).coils)).items():
        part = (folder / f"{stem}.part").read_text(encoding="utf-8")
        found.append(f'<details class="coil-card-fold"><summary><strong>{escape(name)}</strong></summary>\n'
                     f'<p><a href="{link}/{stem}.html">The card on a page of its own</a>, '
                     f'<a href="{link}/{stem}.pdf">and to print (PDF)</a></p>\n{part}</details>')
    return "```{raw} html\n" + "\n".join(line for line in "\n".join(found).splitlines() if line.strip()) + "\n```"


# ----------------------------------------------------------------------------------------------- how often it is right
def kept() -> dict[str, Any]:
    """Return the outcome of `python -m coilbench.trial --keep coilbench/calibrated.json`."""
    return json.loads(RESULT.read_text(encoding="utf-8"))


def percent(share: float) -> str:
    """Return a share in percent."""
    return f"{100.0 * share:.1f} %"


def calibration_figure(found: Mapping[str, Any]) -> str:
    """Return the calibration plot as a figure of HTML: odds as stated against how often they came true."""
    bins = found["sheets"]["usual"]["likeliest"]
    side, left, top = 300.0, 46.0, 10.0

    def x(share: float) -> float:
        return round(left + side * share, 1)

    def y(share: float) -> float:
        return round(top + side * (1.0 - share), 1)

    light = hues()["light"]
    lines = [f'<svg viewBox="0 0 370 360" role="img" aria-label="{escape(_calibration_words(bins))}" '
             'style="max-width:26rem;width:100%;height:auto;font:12px system-ui,sans-serif">',
             f'<g fill="currentColor" stroke="none"><text x="{x(0.5)}" y="350" text-anchor="middle">odds as stated</text>'
             f'<text x="14" y="{y(0.5)}" text-anchor="middle" transform="rotate(-90 14 {y(0.5)})">came true</text>']
    for tick in (0.0, 0.25, 0.5, 0.75, 1.0):
        lines.append(f'<text x="{x(tick)}" y="{top + side + 16}" text-anchor="middle">{100 * tick:.0f} %</text>'
                     f'<text x="{left - 5}" y="{y(tick) + 4}" text-anchor="end">{100 * tick:.0f}</text>')
    lines.append(f'</g><rect x="{left}" y="{top}" width="{side}" height="{side}" fill="none" stroke="currentColor" '
                 'opacity="0.5"/>')
    lines.append(f'<path d="M{x(0)} {y(0.05)}L{x(0.95)} {y(1)}H{x(1)}V{y(0.95)}L{x(0.05)} {y(0)}H{x(0)}z" '
                 f'fill="{light["accent"]}" opacity="0.15"/>')
    lines.append(f'<path d="M{x(0)} {y(0)}L{x(1)} {y(1)}" stroke="currentColor" stroke-dasharray="4 3"/>')
    for one in bins:
        error = (one["came"] * (1.0 - one["came"]) / one["number"]) ** 0.5
        low, high = max(0.0, one["came"] - 2.0 * error), min(1.0, one["came"] + 2.0 * error)
        enough = one["number"] >= ENOUGH_COILS
        lines.append(f'<path d="M{x(one["said"])} {y(low)}V{y(high)}" stroke="{light["accent"]}" stroke-width="1.5"/>'
                     f'<circle cx="{x(one["said"])}" cy="{y(one["came"])}" r="5" stroke="{light["accent"]}" stroke-width="2" '
                     f'fill="{light["accent"] if enough else "none"}"/>')
    return ("<figure>" + "\n".join([*lines, "</svg>"]) + "<figcaption>Odds of the likeliest cause, as stated and as they came "
            f"true, for {found['sheets']['usual']['coils']:,} imagined coils with the usual nine readings. The band is 5 points "
            "either way; the bars are two standard errors of the count; hollow: fewer than "
            f"{ENOUGH_COILS} coils.</figcaption></figure>")


def _calibration_words(bins: list[dict[str, float]]) -> str:
    return "Calibration plot. " + "; ".join(
        f"stated {percent(one['said'])}, came true {percent(one['came'])} of {one['number']:.0f} coils" for one in bins) + "."


def calibration_markdown() -> str:
    """Return the book's section on how often the bench is right: sentences, the plot, and tables, all from the kept outcome."""
    found = kept()
    usual, few = found["sheets"]["usual"], found["sheets"]["few"]
    names = {"few": "two readings (sparks and opening current at 450 rpm)", "usual": "the usual nine (condenser, three speeds, a "
             "meter)", "odd": "another bench (330 and 520 rpm, a gap of 8 kV, a battery)",
             "mains": "a bench transformer (5 and 9 V, 50 Hz) and the condenser"}
    far = max(abs(one["said"] - one["came"]) for one in usual["likeliest"] if one["number"] >= ENOUGH_COILS)
    lines = [
        f"`python -m coilbench.trial` judges imagined coils that the bench has not seen ({found['draws']:,} imagined coils "
        "of each cause judge them), each with a cause and a severity out of the priors above and readings with seeded errors.",
        "",
        "| sheet | coils | likeliest cause right | its odds promise | named | right where named |", "|---|---|---|---|---|---|"]
    lines += [f"| {names[name]} | {one['coils']:,} | {percent(one['right'])} | {percent(one['promised'])} | {one['sure']:,} | "
              f"{percent(one['sure_right'])} |" for name, one in found["sheets"].items()]
    lines += [
        "", f"*Named*: its odds are {100 * NAMED:.0f} in 100 or more; otherwise the card says that the readings cannot tell, and "
        f"what to measure. In every tenth of stated odds with at least {ENOUGH_COILS} coils they came true within "
        f"{100 * far:.1f} points.", "", "```{raw} html", calibration_figure(found), "```", ""]
    lines += _then(usual, "the usual nine readings") + _then(few, "two readings")
    lines += ["### What it finds, and what it mixes up", "",
              "The usual nine readings; *then*: after up to three readings more, as the card asks for them, where no cause was "
              "named.", "", "| true cause | coils | right | then | taken for |", "|---|---|---|---|---|"]
    for cause in HYPOTHESES:
        own = usual["causes"][cause.key]
        taken = ", ".join(f"{BY_KEY[key].name} {many}" for key, many in list(own["taken_for"].items())[:3])
        lines.append(f"| {cause.name} | {own['coils']} | {own['right']} | {own.get('right_then', own['right'])} | {taken} |")
    lines += ["", "### Whether the fitted numbers' limits hold", "",
              "Of the limits that should hold the true number in nine in ten coils, so many did (the usual nine readings).", "",
              "| number | all coils | where the card says that the readings tell it |", "|---|---|---|"]
    lines += [f"| {number.name} | {percent(usual['limits'][number.key]['held'])} | "
              f"{percent(usual['limits'][number.key]['told_held'])} of {usual['limits'][number.key]['told']:,} |"
              for number in NUMBERS]
    return "\n".join(lines) + "\n"


def makes_markdown() -> str:
    """Return the book's section on coils of other makes, from the outcome that `python -m coilbench.makes_trial` kept."""
    found = json.loads(MAKES.read_text(encoding="utf-8"))
    names = {"with_rest": "one known-good coil marked, both coils read at rest too",
             "known": "one known-good coil marked, the usual nine readings of both",
             "unknown": "another make, none marked, the usual nine readings"}
    lines = [
        f"`python -m coilbench.makes_trial` judges coils of {found['designs']} designs that are none of the "
        f"{found['imagined']} imagined ones; springs, gaps, dampings, coupling, ratio and harmonics differ. At rest "
        "are read: follow travel, both spring forces, the primary's and the closed contacts' resistance. How widely the judge "
        "spreads a make was settled on 2,000 coils of 100 other designs, and when it names one cause alone on these and 1,300 of "
        "300 more, before any of those in the table was looked at.", "",
        "| sheet | coils | likeliest cause right | its odds promise | named | right where named | sound ones named faulty | two "
        "faults named as one |", "|---|---|---|---|---|---|---|---|"]
    for name, words in names.items():
        one = found[name]
        lines.append(f"| {words} | {one['coils']:,} | {percent(one['right'])} | {percent(one['promised'])} | {one['named']:,} | "
                     f"{percent(one['named_right'])} | {percent(one['healthy_named_faulty'])} of {one['healthy']} | "
                     f"{percent(one['two_named_single'])} of {one['two']} |")
    right, healthy = found["with_rest"]["right"], max(found[key]["healthy_named_faulty"] for key in names)
    two, blind = found["with_rest"]["two_named_single"], max(found[key]["two_named_single"] for key in ("known", "unknown"))
    short, called = (sum(found[key][what] for key in names) for what in ("lasting_right", "lasting_named"))
    off = max(abs(found[key]["right"] - found[key]["promised"]) for key in names)
    aims = (("the likeliest cause right in 75 of 100 coils beside one known-good coil, with the readings at rest", right >= 0.75,
             percent(right)),
            ("odds within 5 points of what comes true, over all coils, on every sheet", off <= 0.05, f"{100.0 * off:.1f} points"),
            ("sound coils named faulty under 3 in 100, on every sheet", healthy < 0.03, percent(healthy)),
            ("two faults named as a single one under 15 in 100, with the readings at rest", two < 0.15, percent(two)),
            ("the same without them", blind < 0.15, percent(blind)),
            ("shorted turns, which nothing mends, right in 95 of 100 that are named, over the three sheets",
             short >= 0.95 * called > 0, f"{short} of {called}"))
    more, less = (percent(found[name]["right"]) for name in ("with_rest", "known"))
    said = [f"{aim} ({'' if yes else 'not '}reached: {what})" for aim, yes, what in aims]
    coils, twos = found["with_rest"]["coils"], found["with_rest"]["two"]
    before = found["before"]
    every = coils + sum(one["coils"] for one in before)
    both = (found["with_rest"]["right"] * coils + sum(one["right"] * one["coils"] for one in before)) / every
    lines += ["", f"So read both coils at rest too, which takes some minutes each: right {more} instead of {less}. The same odds "
              f"had been right in {' and in '.join(percent(one['right']) for one in before)} of the coils held out the times "
              f"before; of all {every:,} it is {percent(both)}.", "",
              f"What we aimed at: {'; '.join(said)}. By luck alone a share of half may be off by "
              f"{100.0 / coils ** 0.5:.0f} points with {coils:,} coils, and one of 15 in 100 by "
              f"{200.0 * (0.15 * 0.85 / twos) ** 0.5:.0f} points with the {twos} that have two faults (two standard errors, and "
              "rather more, since coils of one design are alike).", "",
              "A mild second fault hides behind the first, so one cause alone is named only where the readings leave little room "
              "for a second; elsewhere the card gives the odds and says that it cannot tell. We take it that a known-good coil "
              "shows what currents and forces its make has; it does not show how its springs answer when they are set wrongly, "
              "which differs from design to design; that was not tried by itself.", ""]
    return "\n".join(lines) + "\n"


def _then(found: Mapping[str, Any], what: str) -> list[str]:
    then = found["then"]
    steps = ", ".join(f"{step['readings']}: {percent(step['right'])}" for step in then["steps"])
    return [f"Of {found['coils']:,} coils with {what}, {then['undecided']:,} stay undecided. Taking the reading that the card "
            "asks for, and again if need be, makes the likeliest cause of these right, by the number of readings more: "
            f"{steps}. Then {then['all_named']:,} of all coils have a named cause, {percent(then['all_named_right'])} of these "
            f"right. {then['nothing_would_tell']} times the card said that no further reading would settle it.", ""]
