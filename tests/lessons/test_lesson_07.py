"""Lesson 7: every claim of its presets, replies and text, in numbers of the model."""

from __future__ import annotations

import json
import math

import pytest

from coilmodel import BatteryDrive, Machine, MagnetoDrive, TimerDrive, TransformerDrive, simulate
from coilmodel.pitch import pitch_of
from coilmodel.readings import read
from lessons import sound
from lessons.cells import at, on
from lessons.contracts import pack
from lessons.exercises import EXERCISES
from lessons.exercises import meters as exercises
from lessons.exercises.kinds import seed_of
from lessons.panels import bad_coils, multi_firing
from lessons.panels import meters as panel


def preset(of, label: str):
    return of.picture(next(p for p in of.presets if p.label == label).values)


def value(picture, label: str) -> float:
    return next(r for r in picture.readings if r.label.startswith(label)).value


def variants(key: str, every: int = 5) -> list[dict]:
    return [EXERCISES[key].variant(seed_of(f"learner {n}", key)) for n in range(0, 50, every)]


@pytest.mark.parametrize("of", panel.PANELS, ids=lambda p: p.name)
def test_presets_are_within_the_sliders_and_pictures_can_be_sent(of) -> None:
    for one in of.presets:
        for whole in (True, False):
            packed = pack(of.picture(one.values, whole=whole))
            json.dumps(packed.tree, allow_nan=False)


def test_pictures_take_few_pulses(monkeypatch: pytest.MonkeyPatch) -> None:
    counted = []

    def counting(module):
        real = module.simulate

        def simulate_counted(machine, drive, pulses=40, warm_up=6, **rest):
            counted.append(pulses + warm_up)
            return real(machine, drive, pulses=pulses, warm_up=warm_up, **rest)

        monkeypatch.setattr(module, "simulate", simulate_counted)

    counting(panel)
    counting(multi_firing)
    counting(sound)
    for of, most in ((panel.SUPPLIES, 14), (panel.EAR, 112), (panel.SAME, 250), (panel.OFF, 60)):
        multi_firing.cell.cache_clear()
        panel.on_battery.cache_clear()
        for whole, limit in ((False, 16 if of is panel.EAR else 5), (True, most)):
            counted.clear()
            of.picture({}, whole=whole)
            assert sum(counted) <= limit, (of.name, whole)


# ---------------------------------------------------------------------------------------------------- three supplies
def test_a_buzz_without_a_spark() -> None:
    good, empty = preset(panel.SUPPLIES, "Battery, well set"), preset(panel.SUPPLIES, "Battery, no spark")
    assert value(good, "Sparks a second") > 0.5 * value(good, "Pitch of the buzz") > 50.0
    assert value(empty, "Sparks a second") == 0.0
    assert value(empty, "Pitch of the buzz") > 0.5 * value(good, "Pitch of the buzz")
    assert value(empty, "Mean") > value(good, "Mean") > 0.5  # and the meter shows more
    assert "no spark" in empty.sentence


def test_the_transformer_passes_the_wrong_coil() -> None:
    sparks = {one.label: value(panel.SUPPLIES.picture(one.values), "Sparks per pulse") for one in panel.SUPPLIES.presets
              if one.values.get("supply")}
    assert sparks["Transformer, well set"] > 1.5
    assert sparks["Transformer, slack"] == 1.0
    assert sparks["Magneto, well set"] == 1.0
    assert sparks["Magneto, slack"] == 1.0
    weak = preset(panel.SUPPLIES, "Magneto, slack")
    assert all(weak.ladder.weak)
    assert "too weak to light" in weak.sentence
    assert "too weak" not in preset(panel.SUPPLIES, "Transformer, slack").sentence


def test_a_plain_meter_reads_nought_on_the_magneto() -> None:
    picture = preset(panel.SUPPLIES, "Magneto, well set")
    assert abs(value(picture, "Mean")) < 0.02
    assert value(picture, "Rectified mean") > 1.0


def test_the_pitch_is_the_blades_repetition_and_no_count_of_partings() -> None:
    """Contacts that bounce part oftener than the motion repeats; what the panel shows is the motion's own pitch."""
    bounces = []
    for key in panel.COILS:
        run = simulate(panel.coil_of(key), BatteryDrive(12.0), pulses=panel.ROWS, warm_up=panel.SETTLE,
                       record=(0, panel.ROWS - 1), rows_a_pulse=200)
        picture = panel.SUPPLIES.picture({"coil": key})
        shown = picture.readings[1]
        assert shown.text == panel.in_hertz(pitch_of(run))
        assert (f"buzzes at {shown.value:.0f} hertz" if shown.value else "rattles") in picture.sentence
        bounces.append(sum(o.real for o in run.openings) / run.meter.seconds / pitch_of(run).hertz)
    assert max(bounces) > 1.25, "of some coil a count of partings would be far from its pitch"


def test_what_an_ear_can_tell() -> None:
    """Pitches, sparks and the shaded stretch are the model's; the ear's own limit is one semitone."""
    picture = panel.EAR.picture()
    assert [bar.strong for bar in picture.bars[0].bars] == [True] + [False] * (len(panel.COILS) - 1)
    well = panel.on_battery("none", 12.0)
    for bar, key in zip(picture.bars[0].bars, panel.COILS, strict=True):
        heard = panel.on_battery(key, 12.0)
        inside = picture.bars[0].bands[0].low < (bar.value or 0.0) < picture.bars[0].bands[0].high
        assert inside != panel.told_apart(well, heard)
        assert panel.PITCHES.low <= (bar.value or 0.0) <= panel.PITCHES.high
    noticed = sum(panel.told_apart(well, panel.on_battery(key, 12.0)) for key in panel.COILS)
    assert f"would notice {noticed}," in picture.sentence
    assert not panel.told_apart(well, well)
    assert panel.told_apart(well, panel.Heard(None, 0.0))
    empty = panel.EAR.picture({"coil": "leaky"})
    assert "no spark" in empty.sentence
    assert panel.on_battery("leaky", 12.0).pitch is not None, "it buzzes all the same"


def test_a_low_battery_sounds_like_another_coil() -> None:
    """The preset asks which fault one would think of: the well-set coil's own pitch has moved by more than a semitone."""
    low = dict(next(p for p in panel.EAR.presets if p.label == "Low battery").values)
    assert panel.told_apart(panel.on_battery("none", 12.0), panel.on_battery("none", low["volts"]))


def test_the_pitch_changes_with_the_volts_and_not_the_coil() -> None:
    low, high = (panel.SUPPLIES.picture({"volts": volts}) for volts in (6.0, 12.0))
    assert abs(value(high, "Sparks a second") / value(low, "Sparks a second") - 1.0) > 0.2


def test_a_silent_coil_is_said_to_be_silent() -> None:
    shut = simulate(Machine().scaled(vibrator_preload=6.0), BatteryDrive(5.0), pulses=2, warm_up=1)
    assert "silent" in panel._supply_sentence(shut, read(shut))


# ------------------------------------------------------------------------------------------------- meters and averages
def test_the_scale_of_a_sine() -> None:
    """Against the definition, summed over one cycle of a sine."""
    n = 100_000
    sine = [math.sin(2.0 * math.pi * (k + 0.5) / n) for k in range(n)]
    rms, rectified = math.sqrt(sum(s * s for s in sine) / n), sum(abs(s) for s in sine) / n
    assert abs(panel.SINE / (rms / rectified) - 1.0) < 1e-6
    assert abs(panel.SINE - 1.11) < 0.005  # the factor that the text and a question quote


def test_this_current_is_more_peaked_than_a_sine() -> None:
    good = at(450)
    assert good.ammeter_rms / good.ammeter_rectified > 1.05 * panel.SINE
    assert good.peak_current == pytest.approx(good.opening_current.mean, rel=0.02)  # "the peak comes near it for a good coil"
    slack = at(450, cushion_preload=bad_coils.SLACK)
    assert slack.peak_current == pytest.approx(good.peak_current, rel=0.03)  # "but a slack coil has a peak of ... and misfires"
    assert slack.misfired == 1.0


# ------------------------------------------------------------------------------------------- equal readings, unequal coils
@pytest.mark.parametrize("meter", ["rectified", "rms", "peak"])
def test_the_map_shows_the_cells_that_read_alike(meter: str) -> None:
    values = panel.SAME.defaults() | {"meter": meter}
    drawn = panel.same_reading(values).map
    mine = getattr(multi_firing.cell(multi_firing.machine(values), 450.0, 100.0), meter)
    cells = multi_firing.preload_cells(450.0, 100.0)
    for row, shown in zip(cells, drawn.cells, strict=True):
        for one, number in zip(row, shown, strict=True):
            near = abs(getattr(one, meter) - mine) <= panel.NEAR * mine
            assert number == (multi_firing.shown(one.worst) if near else None)
    if meter != "rms":  # the true RMS meter happens to have none on this coarse map; the text only asks
        assert any(number in (0, 2, 3, multi_firing.WEAK) for row in drawn.cells for number in row)  # some false friend
    assert any(number == 1 for row in drawn.cells for number in row)


def test_no_meter_is_without_false_friends() -> None:
    for meter, _ in panel.METERS:
        assert any(c.worst != 1 for c in panel.twins(panel.SAME.defaults() | {"meter": meter})), meter


def test_the_slack_twin_reads_like_the_good_coil() -> None:
    twin, good = preset(panel.SAME, "A slack twin"), panel.SAME.picture({})
    assert value(twin, "Your coil on the meter") == pytest.approx(value(good, "Your coil on the meter"), abs=0.09)
    assert value(twin, "Its first spark") < 10.0 < value(good, "Its first spark")


def test_equal_readings_hide_a_quarter_of_the_opening_current() -> None:
    good = at(450)
    cells = [c for c in panel.twins(panel.SAME.defaults()) if c.opening_current is not None]
    assert min(c.opening_current for c in cells) < 0.8 * good.opening_current.mean


def test_the_guess_is_far_off_and_dead_coils_read_highest() -> None:
    for meter, least in (("rectified", 1.5), ("rms", 1.5), ("peak", 1.25)):
        row = panel._row(panel.OFF.defaults())
        off = [panel.estimate(getattr(c, meter), meter, 450.0) / c.opening_current for c in row if c.opening_current]
        assert max(off) > least
        assert min(off) > 0.8
        assert off.index(max(off)) == len(off) - 1  # "furthest off on the coils that part early"
    slack = panel._row(panel.OFF.defaults() | {"vibrator_preload": round(0.7 * panel.VIBRATOR, 2)})
    dead = [c.rectified for c in slack if c.first_energy == 0.0]
    assert dead
    assert min(dead) > max(c.rectified for c in slack if c.first_energy > 0.0)
    peak = preset(panel.OFF, "Peak meter").charts[0]
    true, told = peak.lines[0].y, peak.lines[1].y
    assert all(abs(b / a - 1.0) < 0.05 for a, b in zip(true[:7], told[:7], strict=True))  # "follows most coils well"


def test_the_guess_meets_the_truth_where_it_was_calibrated() -> None:
    chart = panel.how_far_off(panel.OFF.defaults()).charts[0]
    place = list(chart.lines[0].x).index(round(multi_firing.CUSHION, 2))
    assert chart.lines[0].y[place] == pytest.approx(chart.lines[1].y[place], rel=0.01)


def test_the_reading_goes_up_while_the_opening_current_goes_down() -> None:
    slow, fast = at(150), at(450)
    assert slow.ammeter_rectified > 1.08 * fast.ammeter_rectified
    assert slow.opening_current.mean < 0.8 * fast.opening_current.mean


def test_a_reading_in_the_car_is_a_small_part_of_that_on_the_bench() -> None:
    car = on(TimerDrive(450.0, window_start=15.0, window_width=20.0), pulses=12)
    bench = at(450)
    assert car.sparks_per_pulse == 1.0  # one spark a window
    assert car.ammeter_rectified < 0.1 * bench.ammeter_rectified
    assert car.opening_current.mean == pytest.approx(bench.opening_current.mean, rel=0.1)


# ------------------------------------------------------------------------------------------------------ the exercises
def test_eight_exercises_of_five_kinds() -> None:
    mine = [e for e in EXERCISES.values() if e.lesson == 7]
    assert len(mine) == 8
    assert {e.kind for e in mine} == {"number", "choice", "ordering", "sliders", "function"}
    assert [e.key for e in mine if e.prediction] == ["07-equal-readings"]
    beliefs = {b.key for e in mine for b in e.misconceptions}
    assert {"a-buzz-means-it-works", "equal-readings-equal-coils"} <= beliefs


def test_the_twin_of_the_prediction_reads_alike_and_fires_more_than_once() -> None:
    for of in variants("07-equal-readings"):
        twin, good = exercises.twin_readings(of), exercises._well_set(exercises.TWIN_RPM)
        assert panel.alike(twin.ammeter_rectified, good.ammeter_rectified)
        assert twin.misfired == 1.0
        assert EXERCISES["07-equal-readings"].truth(of) == "nothing"


def test_numbers_that_are_asked_for_do_not_hang_on_the_last_digit() -> None:
    """Some coils' pulses never repeat, and a nudge in the twelfth digit changes their averages; no number asked for is theirs."""
    nudged = Machine().scaled(cushion_preload=1.0 + 1e-12)
    for rpm, drive in ((420.0, 0.9), (450.0, 1.0), (500.0, 1.1), (150.0, 1.0), (200.0, 1.0)):
        one, other = (exercises._readings(machine, rpm, drive) for machine in (Machine(), nudged))
        for name in ("ammeter_rectified", "ammeter_rms", "peak_current"):
            assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-4)


def test_a_leaky_condenser_buzzes_without_a_spark_at_every_variant() -> None:
    for of in variants("07-merry-buzz"):
        partings, sparks = exercises.buzz(of)
        assert partings > 100.0
        assert sparks == 0.0


def test_the_transformer_passes_only_the_slack_coil_at_every_variant() -> None:
    for of in variants("07-transformer-test"):
        assert exercises.on_transformer(of)[1] == 1.0
        assert EXERCISES["07-transformer-test"].truth(of) == "slack"
        slack = read(simulate(exercises._scaled(of["cushion"], 1.0), TransformerDrive(of["volts"]), pulses=4, warm_up=2))
        good = read(simulate(Machine(), TransformerDrive(of["volts"]), pulses=4, warm_up=2))
        assert slack.opening_time.mean > good.opening_time.mean  # the hint: later


def test_five_readings_are_well_apart() -> None:
    for of in variants("07-five-meters", every=1):
        shown = sorted(exercises.five_readings(of).values())
        assert min(b / max(a, 0.1) for a, b in zip(shown, shown[1:])) > 1.05


def test_the_guess_by_meter_is_far_too_high() -> None:
    for of in variants("07-set-by-meter"):
        assert EXERCISES["07-set-by-meter"].truth(of) > 20.0


def test_one_spring_alone_takes_the_reading_along() -> None:
    good = exercises._well_set(450.0)
    slack = exercises._readings(exercises._scaled(0.45, 1.0), 450.0)
    assert slack.misfired > 0.8
    assert slack.ammeter_rectified > (1.0 + exercises.TWIN_NEAR) * good.ammeter_rectified
    eased = exercises._readings(exercises._scaled(0.45, 0.8), 450.0)
    assert eased.ammeter_rectified < slack.ammeter_rectified  # the hint: a slacker vibrator brings it back


def test_rms_of_the_samples_is_that_of_the_kernels_meter() -> None:
    for of in variants("07-write-rms"):
        for case in exercises._rms_cases(of):
            times, currents = case.arguments
            area = sum(0.5 * (a * a + b * b) * (t1 - t0) for t0, t1, a, b in
                       zip(times, times[1:], currents, currents[1:], strict=False))
            assert math.sqrt(area / (times[-1] - times[0])) == pytest.approx(case.expected, rel=0.02), case.words


def test_judging_and_asking_take_few_pulses(monkeypatch: pytest.MonkeyPatch) -> None:
    counted = []
    real = exercises.simulate

    def simulate_counted(machine, drive, pulses=40, warm_up=6, **rest):
        counted.append(pulses + warm_up)
        return real(machine, drive, pulses=pulses, warm_up=warm_up, **rest)

    monkeypatch.setattr(exercises, "simulate", simulate_counted)
    exercises._well_set.cache_clear()
    for one in exercises.EXERCISES:
        of = one.variant(seed_of("someone who was never here", one.key))
        answer = one.form(of)["start"] if one.kind == "sliders" else None
        counted.clear()
        one.prompt(of)
        assert sum(counted) <= 30, f"{one.key} keeps a reader waiting before it is shown"
        one.judge(answer if answer is not None else one.truth(of), of)
        assert sum(counted) <= 100, one.key


def test_a_drive_of_each_kind_is_made_from_the_sliders() -> None:
    kinds = {supply: type(panel.drive_of({"supply": supply, "volts": 9.0, "rpm": 450.0}))
             for supply in ("battery", "transformer", "magneto")}
    assert kinds == {"battery": BatteryDrive, "transformer": TransformerDrive, "magneto": MagnetoDrive}
