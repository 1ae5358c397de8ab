"""The gate of what is possible, limit by limit: what just can be passes, what cannot be is taken back and enters no sheet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from coilbench.capture.findings import Found
from coilbench.capture.found import Known, analyse
from coilbench.capture.imagined import Recorder, capture
from coilbench.capture.possible import AMPERES, DECAY, HENRIES, METERS, RIPPLE, SPEED, gate
from coilbench.capture.rise import Estimate
from coilbench.capture.show import rows
from coilbench.capture.trace import parse
from coilmodel import Machine, MagnetoDrive

KNOWN = Known(speed_rpm=450.0)


@pytest.fixture(scope="module")
def whole() -> Found:
    made = capture(Machine(), MagnetoDrive(450.0), 0.1, Recorder(noise=0.01, interval=1e-5), np.random.default_rng(3))
    found = analyse(parse(made.csv().encode()), KNOWN)
    assert not found.withheld
    assert found.inductance is not None
    return found


def after(whole: Found, **how: object) -> Found:
    """Return what the gate leaves of a capture of which one thing was found otherwise."""
    found = replace(whole, sentences=[], withheld=set(), meters=dict(whole.meters), **how)  # type: ignore[arg-type]
    gate(found)
    return found


def exactly(value: float) -> Estimate:
    return Estimate(value, 1e-6 * value)


def test_what_was_found_of_a_sound_coil_passes(whole: Found) -> None:
    found = after(whole)
    assert not found.sentences
    assert not found.withheld
    assert found.inductance == whole.inductance


def parting(amperes: float) -> Callable[[Found], dict[str, object]]:
    return lambda whole: {"rise": replace(whole.rise, opening=exactly(amperes))}  # type: ignore[type-var]


@pytest.mark.parametrize(("amperes", "passes"), [
    (1.01 * AMPERES[0], True), (0.99 * AMPERES[0], False), (0.99 * AMPERES[1], True), (1.01 * AMPERES[1], False)])
def test_an_opening_current(whole: Found, amperes: float, passes: bool) -> None:
    found = after(whole, **parting(amperes)(whole))
    assert ("current" not in found.withheld) is passes
    assert any(row["reading"] == "opening current" for row in rows(found, KNOWN, "Alder")) is passes


@pytest.mark.parametrize(("decay", "passes"), [
    (1.01 * DECAY[0], True), (0.99 * DECAY[0], False), (0.99 * DECAY[1], True), (1.01 * DECAY[1], False)])
def test_a_decay(whole: Found, decay: float, passes: bool) -> None:
    theta = np.array(whole.rise.theta)  # type: ignore[union-attr]
    theta[1] = decay
    found = after(whole, rise=replace(whole.rise, theta=theta))  # type: ignore[type-var]
    assert found.doubted is not passes
    assert (found.inductance is not None) is passes


@pytest.mark.parametrize(("henries", "passes"), [
    (1.01 * HENRIES[0], True), (0.99 * HENRIES[0], False), (0.99 * HENRIES[1], True), (1.01 * HENRIES[1], False)])
def test_an_inductance(whole: Found, henries: float, passes: bool) -> None:
    found = after(whole, inductance=exactly(henries))
    assert (found.inductance is not None) is passes
    assert any("mH of inductance" in sentence for sentence in found.sentences) is not passes


@pytest.mark.parametrize(("rpm", "passes"), [
    (1.01 * SPEED[0], True), (0.99 * SPEED[0], False), (0.99 * SPEED[1], True), (1.01 * SPEED[1], False)])
def test_a_speed(whole: Found, rpm: float, passes: bool) -> None:
    found = after(whole, rpm=exactly(rpm))
    assert (not found.withheld) is passes
    assert bool(rows(found, KNOWN, "Alder")) is passes


def test_a_speed_that_is_hardly_known(whole: Found) -> None:
    assert not after(whole, rpm=Estimate(450.0, 0.04 * 450.0)).withheld
    assert after(whole, rpm=Estimate(450.0, 0.06 * 450.0)).withheld == {"current", "meters", "sparks"}


@pytest.mark.parametrize(("rms", "passes"), [(0.99 * METERS, True), (1.01 * METERS, False)])
def test_no_meter_reads_more_than_the_current_that_breaks_off(whole: Found, rms: float, passes: bool) -> None:
    top = max(abs(one.current) for one in whole.breaks)
    assert ("meters" not in after(replace(whole, meters=whole.meters | {"rms": rms * top})).withheld) is passes


@pytest.mark.parametrize(("times", "passes"), [(0.99 * RIPPLE, True), (1.01 * RIPPLE, False)])
def test_what_only_a_finer_average_sees_is_ring(whole: Found, times: float, passes: bool) -> None:
    meters = whole.meters | {"smooth": whole.meters["rectified"] / times}
    assert ("meters" not in after(replace(whole, meters=meters)).withheld) is passes
