"""The page of the nominal machine, which the model writes itself."""

from __future__ import annotations

import dataclasses
import re
from typing import Any

from book.making import charts

_PREFIXES = ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"))
_TABLE = re.compile(r"(?:^\|.*\n)+", re.MULTILINE)
_PREFIXED = {"H", "F", "m", "Wb", "ohm", "V", "A"}  # units of one word that people prefix


# ------------------------------------------------------------------------------------------ the nominal machine
def nominal_page() -> str:
    """Return the page of the nominal machine: each number with its unit and origin, and how well it shows what was sought."""
    from coilmodel import search
    from coilmodel.machine import Machine

    found = search.nominal()
    lines = [
        "# The nominal machine", "",
        "The machine that every panel starts from is no real maker's. Its windings and magneto have workable values of the "
        "trade; its springs, gaps and dampings, which nobody publishes, were found by a search that can be repeated "
        "(`python -m coilmodel.search`): it looked for a machine that shows what such coils are seen to do.", "",
        "## What the search sought, and how well the machine shows it", "",
        "1 is wholly, 0 not at all.", "", "| sought | weight | mark |", "|---|---|---|",
    ]
    for target in search.TARGETS:
        name = target.mark.__name__
        sought = _cell((target.mark.__doc__ or name).splitlines()[0])
        lines.append(f"| {sought} | {target.weight:g} | {found['marks'][name]:.2f} |")
    lines += ["", *_together(), "", *_shares(), "", *_blades()]
    lines += ["", "## Every number", "", "| part | what | value | where it comes from |", "|---|---|---|---|"]
    machine = Machine()
    for part in dataclasses.fields(machine):
        for item in dataclasses.fields(getattr(machine, part.name)):
            about = item.metadata
            value = quantity(getattr(getattr(machine, part.name), item.name), about.get("unit", "1"))
            meaning, origin = _cell(about.get("meaning", item.name)), _cell(about.get("origin", ""))
            lines.append(f"| {part.name.replace('_', ' ')} | {meaning} | {value} | {origin} |")
    return wide_tables("\n".join(lines) + "\n")


def _together() -> list[str]:
    """Return the part on the two wishes that pull against each other: what machines of two evolutions had of both."""
    from coilmodel import search
    from coilmodel.search import Trials, had_together, machine_from

    front = search.front()
    own = search.defaults()
    chosen = had_together(search.encode(own))
    groups = {}
    for (name, rows), quantity in zip(front["together"].items(), ("emf", "force"), strict=True):
        points = [(row["clock"], row["scatter"]) for row in rows
                  if row["well"] == 1.0 and None not in (row["clock"], row["scatter"])]
        groups[f"evolved, {name}"] = (quantity, points)
    groups["this machine"] = ("secondary", [(chosen["clock"], chosen["scatter"])])
    every = [row for rows in front["together"].values() for row in rows if row["well"] == 1.0 and row["clock"] is not None]
    sooner = [row for row in every if row["clock"] < 0.95]
    weak = [row for row in every if row["misfires"] >= 0.9]
    good, bad = (Trials(machine_from(own), pulses=16).at(cushion_preload=f) for f in (1.0, 0.45))
    return [
        "## Two wishes that pull against each other", "",
        _said(f"""The trade says (common practice, no source) that a slack cushion parts the contacts *too soon*. So the search
        also looked for machines whose slack coil parts sooner by the clock than the well-set one at 450 rpm, as long as the
        well-set coil gives one spark in every pulse from 200 to 900 rpm. Of {len(every)} such machines at the end of two
        evolutions,
        {len(sooner)} part more than a twentieth sooner; in {len(weak)} the slack coil misfires in
        nine or more of ten pulses."""),
        "",
        charts.figure(
            charts.dots(groups, ("opening time, slack over well set", 0.4, 1.3),
                        ("scatter of the well-set opening time, us (to 200)", 0.0, 200.0), "What can be had together"),
            _said("""Each ring is a machine whose well-set coil fires once in every pulse. Further left, the slack coil parts
            sooner; further down, the well-set one is steadier. All of it comes from the equations; the search only chose the
            springs.""")),
        "",
        _said(f"""This machine was chosen for steadiness. Its slack coil (x0.45) parts at
        {1e3 * (bad.opening_time.mean or 0.0):.2f} ms, the well-set one at {1e3 * (good.opening_time.mean or 0.0):.2f} ms:
        too soon on the way, before the cushion has reached its rivet, and not too soon by the clock. What it has instead is
        what an
        engine feels: it parts at
        {bad.parting_speed.mean or 0.0:.2f} m/s against {good.parting_speed.mean or 0.0:.2f}, {1e3 * bad.break_arc_energy:.0f} mJ
        burn at the points, and the spark gets {1e3 * bad.first_spark_energy:.0f} mJ of {1e3 * good.first_spark_energy:.0f}. It
        does so through the timer and from rest too, where blades that still swing from the last pulse play no part."""),
    ]


def _shares() -> list[str]:
    """Return the part on how far the verdicts hang on numbers without a source."""
    from coilmodel.proof import shares

    result = shares.kept()
    return [
        "## How far the verdicts hang on numbers that nobody publishes", "",
        _said(f"""{len(result['numbers'])} numbers have no source. All of them were moved at random at once, {result['machines']}
        times at each spread, and each verdict was asked again (`python -m coilmodel.proof.shares`). In brackets: 95 %
        limits."""),
        "", *shares.table(), "",
        _said("""A verdict that holds of nearly all is a property of such coils. One that holds of half says what this coil does,
        and that another make, or this one bent a little further, may do otherwise: where a slack cushion begins to misfire, and
        how often a stiff one fires again, differ from coil to coil."""),
    ]


def _blades() -> list[str]:
    """Return the part that names blades which have the searched stiffness and mass."""
    from coilmodel.machine import Machine
    from coilmodel.springs import SPRING_STEEL_MODULUS, Leaf, deflection_for_preload, effective_tip_mass, root_stress

    machine = Machine()
    rows = []
    for name, part, length, width in (("vibrator", machine.vibrator, 85e-3, 8e-3), ("cushion", machine.cushion, 25e-3, 8e-3)):
        thickness = (4.0 * part.stiffness * length**3 / (SPRING_STEEL_MODULUS * width)) ** (1.0 / 3.0)
        leaf = Leaf(length, width, thickness)
        bent = deflection_for_preload(part.stiffness, part.preload)
        tip = part.mass - effective_tip_mass(leaf.mass)
        rows.append(f"| {name} | {1e3 * length:.0f} x {1e3 * width:.0f} mm | {1e3 * thickness:.2f} mm | "
                    f"{1e3 * leaf.mass:.2f} g | "
                    f"{1e3 * tip:.2f} g | {1e3 * bent:.1f} mm | {1e-6 * root_stress(leaf, bent):.0f} MPa |")
    return [
        "## Blades that would do it", "",
        _said("""The search knows only stiffness and mass. Steel strips of these sizes (our choice) have them so, by
        `coilmodel.springs`. What each is bent by, it is bent at its foot, before the lid is on: that is its preload."""), "",
        "| blade | free length and width | thickness | its own mass | at the tip | bent by, for its preload | root stress |",
        "|---|---|---|---|---|---|---|", *rows,
    ]


def wide_tables(text: str) -> str:
    """Let every table of a page use the margin beside it too."""
    return _TABLE.sub(r":::{div} full-width dense\n\g<0>:::\n", text)


def quantity(value: Any, unit: str) -> str:
    """Return a value as people write it: 2.6e-3 H is "2.6 mH"."""
    if not isinstance(value, float):
        return str(value)
    if unit == "kg":
        return f"{1e3 * value:.4g} g"
    if unit not in _PREFIXED or value == 0.0:
        return f"{value:.4g}" if unit == "1" else f"{value:.4g} {unit}"
    size, prefix = next(((size, prefix) for size, prefix in _PREFIXES if abs(value) >= 0.9995 * size), _PREFIXES[-1])
    return f"{value / size:.4g} {prefix}{unit}"


def _said(text: str) -> str:
    """Return a paragraph that is broken over lines here as one line."""
    return " ".join(text.split())


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|")
