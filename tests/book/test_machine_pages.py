"""The nominal machine's page can be made, and its blades are ones that the formulas for springs allow."""

from __future__ import annotations

import re

import pytest

from book.making import machine_pages
from coilmodel import Machine
from coilmodel.springs import SPRING_STEEL_MODULUS


def test_its_blades_have_the_searched_stiffness_and_stay_within_what_steel_bears() -> None:
    text = machine_pages.nominal_page()
    for name in ("vibrator", "cushion"):
        row = re.search(rf"^\| {name} \| (\d+) x (\d+) mm \| ([\d.]+) mm \| [\d.]+ g \| ([\d.]+) g \| ([\d.]+) mm \| "
                        r"(\d+) MPa \|$", text, re.MULTILINE)
        assert row is not None, name
        length, width, thickness, tip, bent, stress = map(float, row.groups())
        part = getattr(Machine(), name)
        stiffness = SPRING_STEEL_MODULUS * 1e-3 * width * (1e-3 * thickness) ** 3 / (4.0 * (1e-3 * length) ** 3)
        assert stiffness == pytest.approx(part.stiffness, rel=0.06)  # as far as the printed hundredths allow
        assert 1e-3 * bent * part.stiffness == pytest.approx(part.preload, rel=0.03)
        assert tip > 0.0
        assert stress < 1000.0  # spring steel bears more (from memory: a tempered strip yields at 1200 MPa and above)
