"""The page of what the model leaves out: every cell said, every fall with its figures."""

from __future__ import annotations

import re
from typing import Any

from book.making import left_out_page

RUN = {"where": "bench", "drive": {"rpm": 450.0, "drive": 1.0}, "changed": {}, "single": 1.0, "multiple": 0.0, "none": 0.0,
       "misfired": 0.0, "amperes": 5.01, "ms": 4.36, "on_rivet": 1.0, "first_mJ": 31.2, "meter": 1.72}
CAR = {"where": "car", "drive": 200.0, "changed": {"cushion.preload": 0.45}, "misfires": 0.25, "sparks": 1.0, "first_mJ": 8.16}
WEAK = RUN | {"drive": {"rpm": 450.0, "drive": 0.4}, "single": 0.0, "none": 1.0, "amperes": None, "ms": None}


def found(**stands: bool) -> dict[str, Any]:
    return {
        "additions": [{"key": "nothing", "name": "nothing", "words": "as it is"},
                      {"key": "modes", "name": "modes & more", "words": "how"}],
        "verdicts": [{"says": "One <spark>.", "kernel": True, "runs": [0, 1], "stands": {"nothing": True, "modes": True}},
                     {"says": "It hides.", "kernel": True, "runs": [1, 2], "stands": {"nothing": True, **stands}}],
        "runs": {key: [RUN, CAR, WEAK] for key in ("kernel", "nothing", "modes")},
    }


def test_where_all_stands_it_says_so_and_lists_nothing_fallen() -> None:
    text = left_out_page.page(found(modes=True))
    assert "**2 of 2 conclusions stand" in text
    assert text.count("<td>stands</td>") == 4
    assert "What fell" not in text
    assert "One &lt;spark&gt;." in text
    assert "modes &amp; more" in text
    assert "none was](proof.md)" in text


def test_a_fall_is_marked_and_told_beside_the_model_s_own_figures() -> None:
    text = left_out_page.page(found(modes=False))
    assert "**1 of 2 conclusions stand" in text
    assert re.search(r"<td>It hides\.</td><td>stands</td><td><strong>falls</strong></td>", text)
    told = text.split("## What fell, and by how much")[1]
    assert told.index("- as it is: ") < told.index("- modes & more: ")
    assert "cushion preload x0.45, in the car at 200 rpm: 25 % of windows misfire, first spark 8.2 mJ" in told
    assert "well set, 450 rpm, magneto 40 %: no spark" in told


def test_a_run_in_words() -> None:
    assert left_out_page.run_in_words(RUN) == (
        "well set, 450 rpm: one spark in 100 %, more in 0 % of pulses, 5.01 A at 4.36 ms, on the rivet in 100 %, "
        "first spark 31.2 mJ, meter 1.72 A")
    assert left_out_page.run_in_words(RUN | {"drive": {"volts": 12.0}}).startswith("well set, on 12 V: ")
