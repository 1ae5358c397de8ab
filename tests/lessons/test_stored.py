"""The stored imagined coils and the judge over them: not stale, the same numbers for page and command, quick."""

from __future__ import annotations

import math
import time
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import t as student

from coilbench import carried, stored
from coilbench.asks import Ask, Setting, as_reading
from coilbench.causes import CAUSES, Coil
from coilbench.errors import FREEDOM
from coilbench.predict import imagined_coils
from coilbench.running import COLUMN, outcome
from coilbench.sheet import Bench, Reading, read_sheet, standing

EXAMPLE = Path(__file__).parents[2] / "lessons" / "examples" / "larkfield_twelve.csv"


@pytest.fixture(scope="module")
def fresh() -> dict[str, list[Coil]]:
    """The imagined coils drawn anew."""
    return imagined_coils()


def coils_of(path: Path = EXAMPLE) -> dict[str, list[Reading]]:
    return {name: standing(rows) for name, rows in read_sheet(path).coils.items()}


def at(kind: str, rpm: float, value: float, drive: float = 1.0) -> Reading:
    return as_reading(Ask(kind, Setting(Bench(rpm, drive))), value)


SHEETS: dict[str, list[Reading]] = {
    **coils_of(),
    "one count": [at("sparks", 600.0, 2.0)],
    "one current": [at("opening_current", 450.0, 6.5)],
    "two readings": [at("sparks", 450.0, 1.0), at("opening_current", 450.0, 4.2)],
    "meters": [at("meter_rectified", 450.0, 1.4), as_reading(Ask("meter_mean", Setting(Bench(volts=6.0))), 1.1)],
    "weak and strong": [at("sparks", 450.0, 0.0, 0.7), at("sparks", 450.0, 1.0, 1.3), at("meter_rms", 300.0, 2.0)],
    "at rest": [as_reading(Ask("capacity"), 0.43e-6), as_reading(Ask("travel"), 0.05e-3),
                as_reading(Ask("self_discharge", None, 60.0, 8.0, 10e6), 20.0), as_reading(Ask("primary_resistance"), 0.3)],
}


# --------------------------------------------------------------------------------------------------- is it stale?
def test_the_stored_coils_are_those_of_the_native_bench(fresh: dict[str, list[Coil]]) -> None:
    """`python -m coilbench.fill_store` makes the file again where this fails."""
    store = stored.imagined()
    for place, cause in enumerate(CAUSES):
        for number, coil in zip(store.own(place), fresh[cause.key], strict=True):
            mine = store.coils[number]
            for part, name in (("condenser", "capacitance"), ("condenser", "leakage_resistance"), ("cushion", "travel"),
                               ("vibrator", "preload"), ("contacts", "resistance"), ("coil", "core_resistance")):
                assert getattr(getattr(mine.machine, part), name) == pytest.approx(
                    getattr(getattr(coil.machine, part), name), rel=2e-5)
            assert (mine.drive, mine.gap, mine.supply) == pytest.approx((coil.drive, coil.gap, coil.supply), rel=2e-5)


def test_what_is_stored_is_what_the_model_reads_today(fresh: dict[str, list[Coil]]) -> None:
    """A few coils of every cause on every bench; on another machine a coil that bounces may land a step aside, hence the few."""
    store = stored.imagined()
    off = count = 0
    for setting in stored.SETTINGS:
        for place, cause in enumerate(CAUSES):
            for which in (3, 77):
                now, then = outcome(fresh[cause.key][which], setting), store.runs[setting][store.first[place] + which]
                for name in stored.kept(setting):
                    a, b = now[COLUMN[name]], then[COLUMN[name]]
                    count += 1
                    off += math.isnan(a) != math.isnan(b) or abs(a - b) > 0.51 * stored.STEP
    assert count > 1200
    assert off <= 0.02 * count, f"{off} of {count} stored numbers are not the model's: run python -m coilbench.fill_store"


def test_the_file_is_light_and_comes_only_when_wanted() -> None:
    assert stored.FILE in carried.WHEN_WANTED
    assert (carried.ROOT / stored.FILE).stat().st_size < 500_000


# ------------------------------------------------------------------------------------------------------ by itself
def test_students_t_in_closed_form() -> None:
    for t in (-7.0, -1.3, 0.0, 0.4, 2.0, 11.0):
        assert stored.t_share(t) == pytest.approx(float(student.cdf(t, FREEDOM)), abs=1e-12)
    assert stored.t_quantiles(40) == pytest.approx(list(student.ppf((np.arange(40) + 0.5) / 40, FREEDOM)), abs=1e-8)


# ------------------------------------------------------------------------------------------------ strange benches
def test_a_reading_on_a_bench_that_is_not_stored_is_left_out_and_said() -> None:
    readings = [at("sparks", 600.0, 2.0), at("opening_current", 330.0, 5.0)]
    used, said = stored.sort_out(readings)
    assert [reading for reading, _ in used] == readings[:1]
    assert len(said) == 1
    assert "330 rpm" in said[0]
    assert "150, 200, 300, 450, 600 rpm" in said[0]
    assert "python3 course.py bench" in said[0]
    assert dict(stored.judge(readings).odds) == dict(stored.judge(readings[:1]).odds)
    with pytest.raises(ValueError, match="without a reading"):
        stored.judge(readings[1:])


def test_a_bench_next_to_a_stored_one_counts_as_that_one_and_another_gap_does_not() -> None:
    near = [at("sparks", 595.0, 2.0, 1.01)]
    assert stored.sort_out(near)[1] == []
    gap = as_reading(Ask("gap"), 8e3)
    used, said = stored.sort_out([*near, gap, as_reading(Ask("capacity"), 0.45e-6)])
    assert [reading.kind for reading, _ in used] == ["capacity"]
    assert "gap 8 kV" in said[0]
    assert stored.sort_out([*near, as_reading(Ask("gap"), 10.2e3)])[1] == []


def test_a_coil_that_gave_the_readings_itself_may_be_kept_from_explaining_them() -> None:
    readings = SHEETS["Birch"]
    like = stored.judge(readings, next_steps=False, fit=False).likeness
    number = stored.imagined().coils.index(like)
    assert stored.judge(readings, next_steps=False, fit=False, without=number).likeness != like


def test_it_is_quick_enough_for_a_slider() -> None:
    """A guard against a loop gone wrong, not a benchmark: the browser's Python is some two to four times slower."""
    stored.judge(SHEETS["Birch"])
    begun = time.process_time()
    stored.judge([*SHEETS["Birch"], as_reading(Ask("travel"), 0.21e-3)])
    assert time.process_time() - begun < 1.0
