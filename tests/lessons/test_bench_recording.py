"""Sparks counted in a recording: rightly where they can be, and a sentence where they cannot. The trial does more of it."""

from __future__ import annotations

import os
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coilbench.capture.imagined_sound import Recorder, record, wav
from coilbench.capture.recording import listen, parse_sound
from coilmodel import Machine, MagnetoDrive, Run, simulate
from coilmodel.sparks import by_pulse

EXAMPLES = int(os.environ.get("SOUND_FUZZ", "100"))
WIRE = Recorder(wire=True)


@pytest.fixture(scope="module")
def stiff() -> Run:
    """A coil of the model that fires more than once a pulse."""
    return simulate(Machine().scaled(cushion_preload=1.75), MagnetoDrive(450.0), pulses=120)


@pytest.fixture(scope="module")
def good() -> Run:
    return simulate(Machine(), MagnetoDrive(450.0), pulses=120)


def sound(run: Run, recorder: Recorder) -> bytes:
    return wav(record(run, recorder, np.random.default_rng(5)), recorder)


@pytest.mark.parametrize("form", [WIRE, replace(WIRE, bits=8), replace(WIRE, bits=24, channels=2), replace(WIRE, bits=32),
                                  replace(WIRE, rate=22_050)], ids=lambda one: f"{one.rate} {one.bits} {one.channels}")
def test_one_spark_and_more_are_told_apart(form: Recorder, good: Run, stiff: Run) -> None:
    for run in (good, stiff):
        true = float(np.mean([len(pulse) for pulse in by_pulse(run)]))
        heard = listen(parse_sound(sound(run, form)), 450.0)
        assert heard.low <= true <= heard.high
        assert heard.rpm(8) == pytest.approx(450.0, rel=0.01)


@pytest.mark.parametrize(("recorder", "words"), [
    (replace(WIRE, rate=8_000), "samples a second are too few"), (replace(WIRE, gain=5.0), "cut off at the top"),
    (replace(WIRE, hiss=3.0), "noise|uneven|speed|beat|between"),
    (Recorder(echo=1.0, tail=0.9), "noise|blurred|faint|uneven|between"),
])  # fmt: skip
def test_what_cannot_be_told_gets_a_sentence(recorder: Recorder, words: str, good: Run) -> None:
    with pytest.raises(ValueError, match=words) as caught:
        listen(parse_sound(sound(good, recorder)), 450.0)
    assert str(caught.value).endswith(".")


def test_a_wrong_speed_is_noticed(good: Run) -> None:
    with pytest.raises(ValueError, match="--speed"):
        listen(parse_sound(sound(good, WIRE)), 300.0)


@pytest.mark.parametrize("data", [b"", b"ID3\x04abc", b"RIFF", b"RIFF\x00\x00\x00\x00WAVEfmt ", b"time,current\n1,2\n"])
def test_what_is_no_recording_gets_a_sentence(data: bytes) -> None:
    with pytest.raises(ValueError, match=r"\.$"):
        parse_sound(data)


@settings(max_examples=EXAMPLES, deadline=None, derandomize=EXAMPLES <= 100,
          suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(at=st.integers(0, 100_000), junk=st.binary(max_size=60), cut=st.integers(0, 200_000), place=st.integers(0, 60),
       rpm=st.sampled_from([None, 450.0]))
def test_a_damaged_recording_gets_a_sentence_or_a_count(at: int, junk: bytes, cut: int, place: int, rpm: float | None,
                                                         short: bytes) -> None:
    data = short[:cut] if cut % 3 == 0 else short
    where = place if at % 2 else at % (len(data) + 1)
    data = data[:where] + junk + data[where + (len(junk) if at % 5 else 0):]
    said = ""
    try:
        heard = listen(parse_sound(data), rpm)
    except ValueError as error:
        said = str(error)
    if said:
        assert said.endswith(".")
        assert "\n" not in said
        return
    assert 0.0 <= heard.low <= heard.count <= heard.high


@pytest.fixture(scope="module")
def short(good: Run) -> bytes:
    return sound(good, replace(WIRE, rate=16_000))
