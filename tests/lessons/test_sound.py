"""The sound of a run: its pitch is the blade's, its cracks are the run's sparks, stronger is louder, and it is limited."""

from __future__ import annotations

import dataclasses
from functools import cache

import numpy as np
import pytest

from coilmodel import BatteryDrive, Machine, MagnetoDrive, Run, simulate
from coilmodel.machine import Drive
from coilmodel.pitch import pitch_of
from coilmodel.sparks import sparks
from lessons import sound
from lessons.contracts import SLOWED, Control, Panel, Picture, Sound
from lessons.engine import Engine
from lessons.panels import PANELS

HEARD = [panel for panel in PANELS.values() if panel.sound]
BATTERY, MAGNETO = BatteryDrive(12.0), MagnetoDrive(450.0)
FAULTS = ("", "cushion_preload 0.25", "cushion_preload 1.75", "vibrator_preload 0.7", "condenser_leakage_resistance 1e-6")


@cache
def run_of(drive: Drive, fault: str = "") -> Run:
    name, _, factor = fault.partition(" ")
    return sound.heard_run(Machine().scaled(**({name: float(factor)} if name else {})), drive)


def samples(made: Sound) -> np.ndarray:
    return np.asarray(made.samples)


def loudness(made: Sound) -> float:
    return float(np.sqrt(np.mean(samples(made) ** 2)))


def likeness(signal: np.ndarray) -> np.ndarray:
    """Return how like a signal is to itself so many samples later, from its power spectrum (Wiener and Khinchin), with numpy."""
    signal = signal - signal.mean()
    power = np.abs(np.fft.rfft(signal, 4 * len(signal))) ** 2
    like = np.fft.irfft(power)[: len(signal) // 2]
    like /= np.arange(len(signal), len(signal) - len(like), -1)  # as many products in each sum
    return like / like[0]


def repetition(signal: np.ndarray, rate: int) -> float:
    """Return the hertz at which a signal repeats."""
    like = likeness(signal)
    falls = int(np.argmax(like < 0.0))
    best = like[falls:].max()
    first = falls + int(np.argmax(like[falls:] >= 0.85 * best))
    return rate / (first + int(np.argmax(like[first: int(1.2 * first)])))


# ---------------------------------------------------------------------------------------------------------- pitch
@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("drive", [BATTERY, MAGNETO], ids=["battery", "magneto"])
def test_the_sound_repeats_as_the_blade_does(drive: Drive, fault: str) -> None:
    """A swing later the sound is as like itself as at any time; where the blade has no steady pitch nothing is claimed."""
    run = run_of(drive, fault)
    blade, made = pitch_of(run), sound.sound_of(run)
    if blade is None or blade.clarity < 0.97 or not made.words.startswith("A buzz"):  # a hum that hardly repeats is no tone
        return
    like = likeness(samples(made))
    swing = round(made.rate / blade.hertz)
    best = like[np.argmax(like < 0.0):].max()
    assert like[swing - 1: swing + 2].max() > 0.7 * best
    heard = repetition(samples(made), made.rate)  # knocks may differ from swing to swing, or come twice in each
    number = max(blade.hertz / heard, heard / blade.hertz)
    assert number == pytest.approx(round(number), rel=max(0.01, 2.0 * blade.hertz / made.rate))
    if drive == MAGNETO and not fault:
        assert round(number) == 1, "a well-set coil on the magneto sounds at the blade's own pitch"


def test_slowed_it_is_that_many_times_slower() -> None:
    """A known swing, slowed, repeats as many times slower."""
    run = run_of(BATTERY)
    times = [i * 1e-5 for i in range(12001)]
    swing = [1e-4 * np.sin(2.0 * np.pi * 500.0 * t) for t in times]
    zero = [0.0] * len(times)
    strips = dataclasses.replace(run.strips, time=times, vibrator=swing, cushion=[-1.0] * len(times), contact_voltage=zero)
    hum = dataclasses.replace(run, strips=strips, openings=())
    for slowed in (1.0, SLOWED):
        made = sound.sound_of(hum, slowed)
        assert repetition(samples(made), made.rate) * slowed == pytest.approx(500.0, rel=0.01)
        assert made.slowed == slowed


# --------------------------------------------------------------------------------------------------- sparks and knocks
def sharp_places(made: Sound) -> np.ndarray:
    """Return how much of the sound near each sample is too high in pitch for a slowed blade or a knock: cracks alone."""
    signal = samples(made)
    spectrum = np.fft.rfft(signal)
    spectrum[: int(4000.0 / made.rate * len(signal))] = 0.0
    high = np.abs(np.fft.irfft(spectrum, len(signal)))
    return np.convolve(high, np.ones(16) / 16.0, "same")


@pytest.mark.parametrize("fault", ["", "cushion_preload 0.25"])
def test_slowed_there_is_a_crack_for_each_spark_at_its_time(fault: str) -> None:
    run = run_of(BATTERY, fault)
    made = sound.sound_of(run, SLOWED)
    start, long = run.strips.time[0], len(made.samples) / made.rate
    every = [(time - start) * SLOWED for time, _ in sound.cracks(run)]
    due = [(time - start) * SLOWED for time, energy in sound.cracks(run) if energy > 3e-3]  # weaker ones hardly crack
    due = [at for at in due if at < long - 0.1]
    assert len(due) > 5
    high = sharp_places(made)
    for at in due:
        first = int(at * made.rate)
        assert high[first: first + 80].max() > 4.0 * np.median(high), f"no crack at {at:.3f} s"
    loud = high > 0.25 * np.percentile([high[int(at * made.rate):][:80].max() for at in due], 50)
    begun = [i for i in range(200, len(high) - 700) if loud[i] and not loud[i - 160: i].any()]  # 700: the sound fades away there
    far = [i / made.rate for i in begun if min(abs(i / made.rate - at) for at in every) > 0.02]
    assert far == [], "a crack where there is no spark"


def test_a_coil_without_sparks_has_no_crack() -> None:
    run = run_of(BATTERY, "condenser_leakage_resistance 1e-6")
    assert sparks(run) == []
    with_sparks = sharp_places(sound.sound_of(run_of(BATTERY), SLOWED))
    without = sharp_places(sound.sound_of(run, SLOWED))
    assert without.max() < 0.3 * with_sparks.max()


def test_a_stronger_spark_cracks_louder() -> None:
    run = run_of(BATTERY)

    def with_energy(factor: float) -> Sound:
        openings = tuple(dataclasses.replace(o, spark_energy=factor * o.spark_energy) for o in run.openings)
        return sound.sound_of(dataclasses.replace(run, openings=openings), SLOWED)

    peaks = [sharp_places(with_energy(factor)).max() for factor in (0.25, 0.5, 1.0)]
    assert peaks[0] < peaks[1] < peaks[2]
    assert peaks[2] / peaks[0] == pytest.approx(2.0, rel=0.25)  # the root of four, less what the limit takes


def test_a_faster_blade_is_louder() -> None:
    run = run_of(BATTERY)

    def moved(factor: float) -> Sound:
        strips = dataclasses.replace(run.strips, vibrator=[factor * x for x in run.strips.vibrator],
                                     cushion=[factor * x for x in run.strips.cushion])
        return sound.sound_of(dataclasses.replace(run, strips=strips, openings=()))

    assert loudness(moved(0.2)) < loudness(moved(0.5)) < loudness(moved(1.0))


def test_knocks_are_landings_with_their_speed() -> None:
    """A made-up motion: contacts that meet once at 0.2 m/s, and a blade that meets the core at 0.5 m/s."""
    run = run_of(BATTERY)
    times = [1e-5 * i for i in range(1000)]
    stop = run.machine.vibrator.stop
    lower = [0.2 * (0.004 - t) if t < 0.006 else 0.5 * (t - 0.006) - 0.0004 for t in times]  # contacts meet at 4 ms
    strips = dataclasses.replace(run.strips, time=times, vibrator=lower, cushion=[1e-12] * len(times))
    found = sound.knocks(dataclasses.replace(run, strips=strips))
    contact = [(t, v) for t, v in found if abs(t - 0.004) < 3e-5]
    assert [v for _, v in contact] == [pytest.approx(0.2, rel=0.05)]
    core = 0.006 + (stop + 0.0004) / 0.5
    assert [v for t, v in found if abs(t - core) < 3e-5] == [pytest.approx(0.5, rel=0.05)]
    assert len(found) == 2


def test_on_a_run_contacts_knock_when_they_close() -> None:
    run = run_of(BATTERY)
    closings = [o.closing_time for o in run.openings if o.real and o.closing_time and o.closing_time < run.strips.time[-1] - 1e-4]
    heard = [time for time, _ in sound.knocks(run)]
    hard = [at for at in closings if min(abs(at - time) for time in heard) < 5e-5]
    assert len(hard) > 0.6 * len(closings)  # the rest land too softly to be heard


# ----------------------------------------------------------------------------------------------------- level and words
@pytest.mark.parametrize("slowed", [1.0, SLOWED])
@pytest.mark.parametrize("fault", FAULTS)
def test_no_sample_passes_the_limit_and_it_comes_and_goes_softly(fault: str, slowed: float) -> None:
    for drive in (BATTERY, MAGNETO):
        made = samples(sound.sound_of(run_of(drive, fault), slowed))
        assert np.isfinite(made).all()
        assert np.abs(made).max() <= sound.PEAK
        assert made[0] == made[-1] == 0.0
        quarter = int(0.25 * sound.FADE * sound.RATE)
        assert np.abs(made[:quarter]).max() <= 0.25 * sound.PEAK
        assert np.abs(made[-quarter:]).max() <= 0.25 * sound.PEAK


def test_even_a_monstrous_spark_is_limited() -> None:
    run = run_of(MAGNETO)
    loud = dataclasses.replace(run, openings=tuple(dataclasses.replace(o, spark_energy=100.0) for o in run.openings))
    assert np.abs(samples(sound.sound_of(loud))).max() <= sound.PEAK


def test_the_same_run_gives_the_same_samples() -> None:
    run = run_of(BATTERY)
    assert list(sound.sound_of(run).samples) == list(sound.sound_of(run).samples)


@pytest.mark.parametrize("fault", FAULTS)
def test_repeated_pieces_have_no_seam(fault: str) -> None:
    """Where one piece of a steady buzz passes into the next the hum jumps no further than it does within a piece."""
    run = dataclasses.replace(run_of(BATTERY, fault), openings=())
    heard = pitch_of(run)
    if heard is None or not heard.steady:
        return
    piece = sound._piece(run, heard)
    hum = np.asarray(sound._hum(run, piece, round(piece * sound.RATE), 1.0))
    inside = np.abs(np.diff(hum))
    assert abs(hum[0] - hum[-1]) <= max(inside.max(), 1e-9)


def test_the_words_say_what_is_heard() -> None:
    for fault in FAULTS:
        for drive in (BATTERY, MAGNETO):
            run = run_of(drive, fault)
            words, blade = sound.sound_of(run).words, pitch_of(run)
            if not any(o.real for o in run.openings):
                assert words.startswith(("Silence", "A dull hum"))
            elif blade.steady:
                assert words.startswith(f"A buzz of {blade.hertz:.0f} hertz: ")
            else:
                assert words.startswith("A rattle without a steady pitch")
            if not sparks(run) and "buzz" in words:
                assert "no spark" in words or "0 sparks" in words
    words = sound.sound_of(run_of(MAGNETO)).words  # the nominal machine is well set: one spark for every pulse
    assert "one for each pulse, one spark in each" in words
    shut = simulate(Machine().scaled(vibrator_preload=6.0), BatteryDrive(5.0), pulses=3, record=(0, 2))
    silent = sound.sound_of(shut)
    assert silent.words == "Silence: the blade does not move."
    assert np.abs(samples(silent)).max() < 0.05


def test_bad_input_gets_a_sentence() -> None:
    with pytest.raises(ValueError, match="slowed: 0 is outside 1 to 1000"):
        sound.sound_of(run_of(BATTERY), 0)
    with pytest.raises(ValueError, match="no strips"):
        sound.sound_of(simulate(Machine(), BATTERY, pulses=1))


# ------------------------------------------------------------------------------------------------------- the panels
def test_the_panels_that_teach_by_ear_can_be_heard() -> None:
    assert {"box", "battery_buzz", "cushion", "every_speed", "supplies", "ear"} <= {panel.name for panel in HEARD}


@pytest.mark.parametrize("panel", HEARD, ids=lambda panel: panel.name)
def test_a_panel_is_heard_through_the_engine(panel: Panel) -> None:
    engine = Engine(panels={panel.name: panel})
    shown = engine.handle({"do": "panel", "name": panel.name}).tree["panel"]
    assert shown["slowed"] == SLOWED
    first = {c.symbol: c.low for c in panel.controls[:1] if isinstance(c, Control)}
    reply = engine.handle({"do": "sound", "name": panel.name, "values": first})
    heard = reply.tree["sound"]
    assert heard["rate"] == sound.RATE
    made = reply.arrays[heard["samples"]["$"]]
    assert len(made) == round(sound.LONG * sound.RATE)
    assert list(made) == list(panel.heard(first).samples)
    assert heard["words"]
    assert engine.handle({"do": "sound", "name": panel.name, "slowed": 3.0}).tree["error"] == "Slowed: 3.0 is neither 1 nor 50."


def test_a_panel_without_a_sound_says_so() -> None:
    mute = Panel("mute", "A mute panel", "", (), compute=lambda values: Picture("", ""))
    engine = Engine(panels={"mute": mute})
    assert engine.handle({"do": "panel", "name": "mute"}).tree["panel"]["slowed"] is None
    assert engine.handle({"do": "sound", "name": "mute"}).tree["error"] == "A mute panel: there is nothing to hear."
