"""What recorders write above and beside their numbers, and what a capture must not be believed: each line was once misread."""

from __future__ import annotations

import numpy as np
import pytest

from coilbench.capture.findings import Found
from coilbench.capture.found import Known, analyse
from coilbench.capture.heading import seconds_of
from coilbench.capture.imagined import Imagined, Recorder, capture
from coilbench.capture.show import card, rows
from coilbench.capture.trace import Asked, parse
from coilmodel import BatteryDrive, Machine, MagnetoDrive


def made(drive: MagnetoDrive | BatteryDrive, seconds: float = 0.08, **how: object) -> Imagined:
    how = {"noise": 0.01, "interval": 1e-5} | how
    return capture(Machine(), drive, seconds, Recorder(**how), np.random.default_rng(3))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def magneto() -> Imagined:
    return made(MagnetoDrive(450.0))


def columns(one: Imagined, *names: str, time: bool = True, scale: float = 1.0, join: str = ",") -> list[str]:
    table = [one.channels[name] * scale for name in names]
    first = [[f"{value:.7g}" for value in one.time]] if time else []
    return [join.join(row) for row in zip(*first, *[[f"{value:.5g}" for value in column] for column in table])]


def read(lines: list[str], known: Known | None = None, asked: Asked | None = None) -> Found:
    return analyse(parse("\n".join(lines).encode(), asked), known)


def is_450(found: Found, one: Imagined) -> None:
    assert found.rpm is not None
    assert found.rpm.value == pytest.approx(450.0, rel=2e-3)
    assert found.rise is not None
    assert found.rise.opening.value == pytest.approx(one.truth.opening_current, rel=0.03)


COUNTED = {
    "a row of titles with the increment": ["X,CH1,Start,Increment", "Sequence,Ampere,-0.04,1e-05"],
    "key and value": ["Sample interval,1e-05,s", "Points,8000", "index,current_A"],
    "a rate": ["# Sampling rate: 100 kS/s", "n,current_A"],
    "with its unit in brackets": ["Interval (us),10", "sample,current (A)"],
    "two values a row": ["Range,0.002,0.005", "Increment,1e-05,s", "index,current_A"],
}


@pytest.mark.parametrize("form", COUNTED)
def test_samples_that_are_counted_get_their_time_from_the_heading(form: str, magneto: Imagined) -> None:
    """An index column with the increment in the header once gave 2249 rpm for 450."""
    body = [f"{place},{line}" for place, line in enumerate(columns(magneto, "current", time=False))]
    is_450(read([*COUNTED[form], *body]), magneto)


def test_samples_that_are_counted_without_a_step_are_refused(magneto: Imagined) -> None:
    body = [f"{place},{line}" for place, line in enumerate(columns(magneto, "current", time=False))]
    with pytest.raises(ValueError, match=r"only counts the samples, .* --time 1:5us"):
        read(["index,current_A", *body])
    is_450(read(["index,current_A", *body], asked=Asked(time="1:10us")), magneto)


def test_no_time_at_all_but_an_increment(magneto: Imagined) -> None:
    is_450(read(["dt = 10 us", "current_A,contact_V", *columns(magneto, "current", "contact", time=False)]), magneto)
    is_450(read(["Increment: 1e-05", "current_A", *columns(magneto, "current", time=False)], asked=Asked(current="2:A")), magneto)


def test_numbers_beside_words(magneto: Imagined) -> None:
    words = ["Record Length,8000,", "Sample Interval,1e-05,", "Vertical Units,A,", "Probe Atten,10,", "Source,CH1,"]
    body = columns(magneto, "current")
    found = read([f"{words[place] if place < len(words) else ',,'},{line}" for place, line in enumerate(body)])
    is_450(found, magneto)
    assert len(found.trace.time) == len(body)
    assert any("probe factor of 10" in line for line in found.trace.guesses)
    assert found.trace.scaled["current"]


def test_heading_rows_of_two_values_are_no_samples(magneto: Imagined) -> None:
    """Such a file was refused, for a reason that was not so."""
    head = ["Horizontal,0.001,0.002", "Vertical,1,2", "Delay,0,0", "time_s,current_A"]
    is_450(read([*head, *columns(magneto, "current")]), magneto)


def test_a_current_without_a_unit_enters_no_sheet(magneto: Imagined) -> None:
    found = read(["time_s,current", *columns(magneto, "current")])
    is_450(found, magneto)
    assert any("Nobody says how many amperes" in line for line in found.sentences)
    assert rows(found, Known(), "Alder") == []


def test_units_and_probe_factors_per_channel(magneto: Imagined) -> None:
    head = ["Vertical Units,A,V", "Probe,1,100", "Time (s),CH1,CH2"]
    found = read([*head, *columns(magneto, "current", "contact")])
    is_450(found, magneto)
    assert found.trace.scaled == {"current": True, "contact": True}
    assert any("probe factor of 100" in line for line in found.trace.guesses)


def test_a_channel_called_a_is_not_in_amperes(magneto: Imagined) -> None:
    """Its millivolts were once read as 515 A."""
    lines = ["Time,Channel A", "(s),(mV)", *columns(magneto, "current", scale=100.0)]
    found = read(lines)
    assert found.rise is not None
    assert found.rise.opening.value < 5.0
    assert rows(found, Known(), "Alder") == []
    assert any("clamp's or shunt's scale" in line for line in found.sentences)
    assert any("nobody says how many amperes" in line for line in found.trace.guesses)
    told = read(lines, asked=Asked(current="2:10A/V"))
    is_450(told, magneto)
    assert rows(told, Known(), "Alder")


@pytest.mark.parametrize("factor", [10.0, 0.1])
def test_a_probe_that_is_off_by_ten_raises_a_doubt(factor: float, magneto: Imagined) -> None:
    found = read(["time_s,current_A", *columns(magneto, "current", scale=factor)])
    assert any("is not that of such a coil" in line for line in found.sentences)
    assert rows(found, Known(), "Alder") == []
    lines = [f"{line},{value * factor:.5g}" for line, value in zip(columns(magneto, "current"), magneto.channels["contact"])]
    off = read(["time_s,current_A,contact_V", *lines])
    assert off.inductance is None
    assert any("a probe's scale" in line for line in off.sentences)


@pytest.mark.parametrize("offset", [1.5, -1.5, 3.0])
def test_a_clamp_that_is_not_zeroed(offset: float, magneto: Imagined) -> None:
    """1.5 A made a battery of a magneto, and its current was 10 % low with narrow limits."""
    lines = [f"{t:.7g},{value + offset:.5g}" for t, value in zip(magneto.time, magneto.channels["current"])]
    found = read(["time_s,current_A", *lines])
    assert found.kind == "magneto"
    is_450(found, magneto)


def test_a_battery_with_an_offset_stays_one() -> None:
    one = made(BatteryDrive(12.0))
    lines = [f"{t:.7g},{value + 1.5:.5g}" for t, value in zip(one.time, one.channels["current"])]
    found = read(["time_s,current_A", *lines])
    assert found.kind == "battery"
    assert found.rise is not None
    low, high = found.rise.opening.interval()
    assert low <= one.truth.opening_current <= high


def test_ac_coupling_is_noticed() -> None:
    one = made(BatteryDrive(12.0), seconds=0.15)
    current = one.channels["current"]
    slow, level = np.empty(len(current)), float(current.mean())
    for place, value in enumerate(current):  # the recorder's own coupling condenser, 5 Hz
        level += (value - level) * 1e-5 * 2.0 * np.pi * 5.0
        slow[place] = value - level
    found = read(["time_s,current_A", *(f"{t:.7g},{value:.5g}" for t, value in zip(one.time, slow))], Known(supply_volts=12.0))
    assert any("AC coupling" in line for line in found.sentences), found.sentences
    assert rows(found, Known(supply_volts=12.0), "Alder") == []


def test_a_short_capture_is_not_called_a_battery() -> None:
    one = made(MagnetoDrive(450.0), seconds=0.012)
    found = read(["time_s,current_A", *columns(one, "current")])
    assert found.kind in ("unknown", "magneto")
    assert rows(found, Known(), "Alder") == []
    assert card(found, "short.csv")


def test_a_strong_ring_gives_no_meter_reading(magneto: Imagined) -> None:
    """60 kHz over the current made a rectified mean of 9.9 A, and it went into the rows."""
    rings = np.zeros(len(magneto.time))
    for at in magneto.truth.opening_times:
        since = magneto.time - at
        with np.errstate(over="ignore"):
            rings += np.where(since > 0.0, 40.0 * np.exp(-since / 3e-3) * np.sin(2.0 * np.pi * 6e4 * since), 0.0)
    values = magneto.channels["current"] + rings
    found = read(["time_s,current_A", *(f"{t:.7g},{value:.5g}" for t, value in zip(magneto.time, values))])
    assert found.meters == {}
    assert not [row for row in rows(found, Known(), "Alder") if row["reading"].startswith("meter")]


def test_a_step_is_read_as_people_write_it() -> None:
    assert seconds_of(["2e-6", "s"]) == 2e-6
    assert seconds_of(["5us"]) == 5e-6
    assert seconds_of(["1 MHz"], rate=True) == 1e-6
    assert seconds_of(["-3"]) is None
