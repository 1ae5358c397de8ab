"""Scope capture: right numbers within the stated errors, whatever the recorder wrote, and a sentence for what cannot be used.

About 25 seconds; the damaged captures are in test_bench_capture_damaged.py.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from coilbench.capture import rise as rises
from coilbench.capture.findings import Found
from coilbench.capture.found import Known, _zero, analyse
from coilbench.capture.imagined import Imagined, Recorder, capture
from coilbench.capture.openings import Break, even, find_breaks
from coilbench.capture.show import card, likeness, rows, sheet_text
from coilbench.capture.trace import Asked, parse, parse_scale
from coilbench.capture.trial import NEAR, try_many
from coilbench.sheet import parse as parse_sheet
from coilmodel import BatteryDrive, Machine, MagnetoDrive
from coilmodel.closed_forms import rl_rise
from coilmodel.proof import spice
from lessons import captured as command
from lessons.capture_picture import picture

EXAMPLE = Path(__file__).resolve().parents[2] / "lessons" / "examples" / "capture_alder.csv"


def made(drive: MagnetoDrive | BatteryDrive, seed: int = 3, seconds: float = 0.1, **how: object) -> Imagined:
    return capture(Machine(), drive, seconds, Recorder(**how), np.random.default_rng(seed))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def magneto() -> Imagined:
    return made(MagnetoDrive(450.0))


@pytest.fixture(scope="module")
def battery() -> Imagined:
    return made(BatteryDrive(12.0))


def holds(estimate: rises.Estimate | None, true: float) -> bool:
    assert estimate is not None
    low, high = estimate.interval(0.999)
    return low <= true <= high


def all_held(found: Found, truth: Imagined) -> None:
    assert found.rise is not None
    assert holds(found.supply, truth.truth.supply)
    assert holds(found.inductance, truth.truth.inductance)
    assert holds(found.resistance, truth.truth.resistance)
    times = np.array(truth.truth.opening_times)
    near = [truth.truth.opening_currents[int(np.argmin(np.abs(times - s.at.time)))] for s in found.rise.stretches]
    assert holds(found.rise.opening, float(np.mean(near)))


# ------------------------------------------------------------------------------------------------- against the outside
def test_the_law_is_the_closed_form_of_an_rl_rise() -> None:
    """Steady voltage on a coil: V/R (1 - exp(-R t/L)), Serway & Jewett chapter 32 (coilmodel.closed_forms). Worst seen: 3e-7."""
    time = np.linspace(0.0, 6e-3, 601)
    true = np.array([rl_rise(12.0, 0.8, 4e-3, t) for t in time])
    stretch = rises.Stretch(Break(6e-3, 1e-6, float(true[-1])), time, true, np.ones(len(time)))
    theta = np.array([12.0 / 4e-3, 0.8 / 4e-3, *[0.0] * len(rises.KNOTS), 0.0])
    left = rises.residual(theta, "battery", rises.flatten([stretch]))
    assert np.abs(left.rest).max() < 1e-5 * true[-1]
    assert left.at_break[0] == pytest.approx(rl_rise(12.0, 0.8, 4e-3, 6e-3), rel=1e-5)


def test_the_errors_are_those_of_scipys_own_fit() -> None:
    """White noise on twelve long rises: V/L agrees with scipy's curve_fit of the closed form, and so does its error."""
    from scipy.optimize import curve_fit

    generator = np.random.default_rng(4)
    time = np.linspace(0.0, 2e-2, 2000)

    def law(t: np.ndarray, pull: float, decay: float) -> np.ndarray:
        return pull / decay * -np.expm1(-decay * t)

    stretches, pulls, errors = [], [], []
    for place in range(12):
        noisy = law(time, 3000.0, 200.0) + generator.normal(0.0, 0.1, len(time))
        solved, cov = curve_fit(law, time, noisy, p0=(2000.0, 100.0))
        pulls.append(solved[0])
        errors.append(np.sqrt(cov[0, 0]))
        stretches.append(rises.blocks(time + place, noisy, place - 1e-9, place + 1.0, Break(place + 0.03, 1e-6, 14.0)))
    theta = np.array([2500.0, 150.0, *[0.0] * len(rises.KNOTS), 0.0])
    fitted = rises.fit("battery", [one for one in stretches if one], theta, rises.Estimate(0.0, 1e-4))
    assert fitted.theta[0] / 1.018 == pytest.approx(np.mean(pulls), rel=0.02)  # Lambda before the last knot is 1.018
    # Ours is wider by what is not known of Lambda, which scipy's law has not; never narrower.
    scipys, growth = float(np.mean(errors)) / np.sqrt(12), rises.GROWTH_ERROR["battery"] * fitted.theta[0]
    assert scipys < np.sqrt(fitted.cov[0, 0]) < 1.2 * rises.WIDER["battery"] * np.hypot(scipys, growth)


@pytest.mark.ngspice
def test_a_trace_of_ngspice_gives_its_own_parts(need_ngspice: str) -> None:
    """ngspice, a circuit simulator of its own, makes the rise of the still coil on a magneto; the fit finds its R/L and V/L."""
    from coilmodel.machine import emf_peak

    case = next(one for one in spice.CASES if one.name.startswith("nominal"))
    machine = spice.still({})
    core = (machine.coil.coupling * machine.coil.primary_inductance - 2 * machine.coil.pull_constant / machine.coil.magnetic_gap
            + 2 * machine.coil.pull_constant / (machine.coil.magnetic_gap + machine.cushion.travel))
    text = spice.netlist(machine, case.drive, case.opening, case.opening + 1e-3, core, "out.data")
    data = spice.ngspice(text)
    time = np.arange(0.0, case.opening, 2e-6)
    current = np.interp(time, data[:, 0], data[:, 1])
    loop = machine.magneto.inductance + (1 - machine.coil.coupling) * machine.coil.primary_inductance + core
    ohms = machine.magneto.resistance + machine.coil.primary_resistance + machine.contacts.resistance
    at = Break(case.opening, 1e-6, float(current[-1]))
    stretch = rises.blocks(time, current, 1e-4, case.opening - 2e-6, at)
    assert stretch is not None
    omega = np.pi / (30.0 / (machine.magneto.pole_pairs * case.drive.rpm))  # type: ignore[union-attr]
    theta = np.array([emf_peak(machine, case.drive) / loop, ohms / loop, *[0.0] * len(rises.KNOTS), 0.0, 0.0, omega])
    left = rises.residual(theta, "magneto", rises.flatten([stretch]))
    assert np.abs(left.rest / np.sqrt(stretch.count)).max() < 0.01 * current[-1]
    wrong = theta.copy()
    wrong[0] *= 1.05
    worse = rises.residual(wrong, "magneto", rises.flatten([stretch]))
    assert np.abs(worse.rest / np.sqrt(stretch.count)).max() > 0.02 * current[-1]


# ---------------------------------------------------------------------------------------------- right within the errors
@pytest.mark.slow
def test_stated_intervals_hold_the_truth() -> None:
    """24 machines and drives at random, 5 % noise, 8 bits; the committed trial does more (the page gives its figures)."""
    tried = try_many(24, first=5000, jobs=1)
    used = [one for one in tried if not one.refused]
    assert len(used) >= 0.9 * len(tried)
    for name, least in (("V/L", 0.8), ("R/L", 0.8), ("opening current", 0.8), ("supply", 0.75), ("inductance", 0.75)):
        held = [one.numbers[name][2] for one in used if name in one.numbers]
        assert np.mean(held) >= least, (name, held)
    true, hit = (sum(one.openings[place] for one in used) for place in range(2))
    assert hit > 0.95 * true


def test_a_magneto_is_known_with_its_speed_and_sparks(magneto: Imagined) -> None:
    found = analyse(parse(magneto.csv().encode()))
    assert found.kind == "magneto"
    assert found.rpm is not None
    assert found.rpm.value == pytest.approx(450.0, rel=1e-3)
    assert set(found.per_pulse) == {1}
    assert found.sparks is not None
    assert set(found.sparks) == {1}
    all_held(found, magneto)
    assert any("60 Hz mains" in line for line in found.sentences)


def test_a_battery_is_known_and_its_volts(battery: Imagined) -> None:
    found = analyse(parse(battery.csv().encode()))
    assert found.kind == "battery"
    all_held(found, battery)


def test_a_current_alone_gives_ratios_and_takes_the_supply_from_the_person(battery: Imagined) -> None:
    alone = Imagined(battery.time, {"current": battery.channels["current"]}, battery.truth, battery.run)
    found = analyse(parse(alone.csv().encode()))
    assert found.supply is None
    assert any("ratios" in line for line in found.sentences)
    told = analyse(parse(alone.csv().encode()), Known(supply_volts=12.0))
    assert holds(told.inductance, battery.truth.inductance)
    assert holds(told.resistance, battery.truth.resistance)
    assert rows(found, Known(), "Alder") == []
    assert rows(told, Known(supply_volts=12.0), "Alder")


@pytest.mark.parametrize("how", [{"reversed": True}, {"hum": 0.03}, {"lost": 0.05}, {"clip": 0.8}, {"offset": 0.03},
                                 {"interval": 2e-5}, {"noise": 0.002, "bits": 12}], ids=str)
def test_a_recorder_that_is_not_perfect_still_gives_the_opening_current(how: dict[str, object]) -> None:
    one = made(MagnetoDrive(450.0), **how)  # type: ignore[arg-type]
    found = analyse(parse(one.csv().encode()))
    assert found.rise is not None
    assert found.rise.opening.value == pytest.approx(one.truth.opening_current, rel=0.05)
    assert found.rpm is not None
    low, high = found.rpm.interval()
    assert low <= 450.0 <= high  # hum shifts each break a little, and the stated error grows with it
    assert found.rpm.value == pytest.approx(450.0, rel=0.01)


def test_a_reversed_clamp_on_a_battery_is_turned_and_said() -> None:
    one = made(BatteryDrive(12.0), reversed=True)
    found = analyse(parse(one.csv().encode()))
    assert found.flipped
    assert any("wrong way round" in line for line in found.trace.guesses)


# --------------------------------------------------------------------------------------------------- what is written how
FORMS = {
    "no header": lambda text: text.split("\n", 1)[1],
    "semicolons and decimal commas": lambda text: text.replace(",", ";").replace(".", ","),
    "tabs": lambda text: text.replace(",", "\t"),
    "preamble and unit row": lambda text: "Recorder\nInterval,5e-06\n\nTime,Channel A,Channel B,Channel C\n(s),(A),(V),(V)\n"
                                          + text.split("\n", 1)[1],
}


@pytest.mark.parametrize("form", FORMS)
def test_any_recorder_may_have_written_it(form: str, magneto: Imagined) -> None:
    plain = analyse(parse(magneto.csv().encode()))
    for encoding in ("utf-8-sig", "utf-16", "cp1252"):
        found = analyse(parse(FORMS[form](magneto.csv()).encode(encoding)))
        assert found.rise is not None
        assert plain.rise is not None
        assert found.rise.opening.value == pytest.approx(plain.rise.opening.value, rel=1e-3)


@pytest.mark.parametrize(("unit", "factor"), [("ms", 1e3), ("us", 1e6)])
def test_the_unit_of_the_time_is_found_or_told(unit: str, factor: float, magneto: Imagined) -> None:
    scaled = Imagined(magneto.time * factor, magneto.channels, magneto.truth, magneto.run)
    told = analyse(parse(scaled.csv().replace("time_s", f"time_{unit}").encode()))
    guessed = analyse(parse(scaled.csv().split("\n", 1)[1].encode()))
    for found in (told, guessed):
        assert found.rpm is not None
        assert found.rpm.value == pytest.approx(450.0, rel=1e-3)
    assert any(f"; {unit} is taken" in line for line in guessed.trace.guesses)


def test_scales_are_read_as_people_write_them() -> None:
    assert parse_scale("10A/V", "current") == (10.0, False)
    assert parse_scale("0.1 ohm", "current")[0] == pytest.approx(10.0)
    assert parse_scale("x100", "contact") == (100.0, False)
    assert parse_scale("kV", "secondary") == (1000.0, True)
    for words, role in (("10V/A", "contact"), ("banana", "current"), ("0", "current"), ("5 kg", "current")):
        with pytest.raises(ValueError, match=f"--{role}"):
            parse_scale(words, role)


def test_a_shunt_in_millivolts_and_a_column_by_its_number(magneto: Imagined) -> None:
    current = magneto.channels["current"] * 0.05 * 1e3  # a shunt of 50 milliohms, read in mV
    text = "\n".join(["t (s),ch1 (mV)", *(f"{t:.7g},{v:.5g}" for t, v in zip(magneto.time, current))])
    found = analyse(parse(text.encode(), Asked(current="2:0.05ohm")))
    assert found.rise is not None
    assert found.rise.opening.value == pytest.approx(magneto.truth.opening_current, rel=0.03)
    with pytest.raises(ValueError, match="there is no such column"):
        parse(text.encode(), Asked(current="nine"))


# -------------------------------------------------------------------------------------------------- what cannot be used
def test_bad_cells_are_named_by_row_and_column_and_the_rest_is_used(magneto: Imagined) -> None:
    lines = magneto.csv().split("\n")
    lines[40] = "oops,1,2,3"
    lines[50] = lines[50].replace(",", ",banana,", 1)
    lines[60] = lines[60].split(",")[0] + ",x,0,0"
    trace = parse("\n".join(lines).encode())
    said = " ".join(trace.messages)
    assert "Row 41, column 'time_s': 'oops' is not a number" in said
    assert "Row 51: has 5 cells where the others have 4" in said
    assert "Row 61, column 'current_A': 'x' is not a number" in said
    assert len(trace.time) >= len(lines) - 6


def test_times_out_of_order_repeated_or_backward(magneto: Imagined) -> None:
    rows_ = magneto.csv().strip().split("\n")
    back = "\n".join([rows_[0], *rows_[:0:-1]])
    assert any("run backward" in line for line in parse(back.encode()).guesses)
    jump = [*rows_[:100], rows_[20], rows_[21], *rows_[100:]]
    trace = parse("\n".join(jump).encode())
    assert any(line.startswith("Row 101, column 'time_s'") for line in trace.messages)
    assert len(trace.time) == len(magneto.time)
    coarse = "\n".join([rows_[0], *(f"{float(line.split(',')[0]):.4f},{line.split(',', 1)[1]}" for line in rows_[1:])])
    found = analyse(parse(coarse.encode()))
    assert any("spread out evenly" in line for line in found.trace.guesses)
    assert found.rpm is not None
    assert found.rpm.value == pytest.approx(450.0, rel=2e-3)


def _flat(value: float, count: int = 4000) -> bytes:
    return "\n".join(["time_s,current_A", *(f"{5e-6 * n:.7g},{value}" for n in range(count))]).encode()


def _sine() -> bytes:
    return "\n".join(["time_s,current_A", *(f"{5e-6 * n:.7g},{np.sin(5e-6 * n * 377):.5f}" for n in range(8000))]).encode()


@pytest.mark.parametrize(("data", "words"), [
    (b"", "is empty"), (b"PK\x03\x04abc", "spreadsheet's own file"), (b"hello\nworld\n", "No row of this file holds two numbers"),
    (b"t,i\n0,1\n1,2\n", "samples"), (_flat(0.0), "stands still"), (_sine(), "never rises and then breaks off suddenly"),
    ("\n".join(["time_s,current_A", *(f"{1e-3 * n},{n % 7}" for n in range(300))]).encode(), "too few to see a break"),
])  # fmt: skip
def test_what_cannot_be_used_gets_a_sentence(data: bytes, words: str) -> None:
    with pytest.raises(ValueError, match=words) as caught:
        analyse(parse(data))
    assert str(caught.value).rstrip().endswith(".")


def test_clipped_everywhere_is_said(magneto: Imagined) -> None:
    one = made(MagnetoDrive(450.0), clip=0.15)
    try:
        found = analyse(parse(one.csv().encode()))
    except ValueError as error:
        assert "clipped" in str(error)  # noqa: PT017
    else:
        assert any("clipped" in line for line in found.trace.messages)


def test_contact_voltage_alone_counts_openings(magneto: Imagined) -> None:
    alone = Imagined(magneto.time, {"contact": magneto.channels["contact"]}, magneto.truth, magneto.run)
    found = analyse(parse(alone.csv().encode()))
    fired = sum(magneto.truth.fired)
    assert abs(len(found.breaks) - fired) <= 2
    assert "cannot be told without the current" in card(found, "a.csv")


def test_no_break_is_seen_in_noise() -> None:
    generator = np.random.default_rng(9)
    assert find_breaks(np.arange(40_000) * 5e-6, generator.normal(0.0, 1.0, 40_000)) == []


# --------------------------------------------------------------------------------------------------- card, rows, picture
def test_the_rows_are_good_rows_of_a_bench_sheet(magneto: Imagined) -> None:
    found = analyse(parse(magneto.csv().encode()))
    sheet = parse_sheet(sheet_text(found, Known(), "Alder", "2031-05-08").encode())
    assert sheet.messages == []
    readings = {row.kind: row.value for row in sheet.coils["Alder"]}
    assert readings["sparks"] == 1.0
    assert readings["opening_current"] == pytest.approx(magneto.truth.opening_current, rel=0.02)
    assert readings["meter_rms"] == pytest.approx(magneto.run.meter.rms, rel=0.06)
    assert readings["meter_rectified"] == pytest.approx(magneto.run.meter.rectified_mean, rel=0.06)


def test_the_model_is_laid_over_the_trace(magneto: Imagined) -> None:
    found = analyse(parse(magneto.csv().encode()))
    model = likeness(found)
    assert model is not None
    drawn = picture(found, model, "a.csv")
    assert [strip.key for strip in drawn.strips] == ["current", "residual", "contact", "secondary"]
    assert {line.label for line in drawn.strips[0].lines} == {"captured", "model", "fitted rise"}
    assert found.rise is not None
    assert f"{found.rise.opening.value:.1f}"[:2] in drawn.alt


def test_the_command_writes_new_files_only_and_never_the_capture(magneto: Imagined, tmp_path: Path,
                                                                 capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "alder.csv"
    path.write_text(magneto.csv())
    path.chmod(0o444)
    before = path.read_bytes()
    drawn, made_rows = tmp_path / "alder.html", tmp_path / "rows.csv"
    assert command.main([str(path), "--coil", "Alder", "--picture", str(drawn), "--rows", str(made_rows)]) == 0
    out = capsys.readouterr()
    assert "a magneto" in out.out
    assert path.read_bytes() == before
    assert "data:image/png" in drawn.read_text()
    assert parse_sheet(made_rows.read_bytes()).good >= 3
    assert command.main([str(path), "--rows", str(made_rows)]) == 1
    assert "exists and is left as it is" in capsys.readouterr().err


@pytest.mark.parametrize(("words", "said"), [
    (["missing.csv"], "cannot be read"), (["{}", "--supply-volts", "0"], "--supply-volts"),
    (["{}", "--current", "9"], "no such column"),
    (["{}", "--picture", "a.gif"], "must end in"), (["{}", "--supply-volts", "12", "--loop-ohms", "1"], "give one of the two"),
])  # fmt: skip
def test_a_wrong_command_gets_one_sentence(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert command.main([word.format(EXAMPLE) for word in words]) == 1
    assert said in capsys.readouterr().err


def test_the_command_reads_the_example(capsys: pytest.CaptureFixture[str]) -> None:
    assert command.main([str(EXAMPLE)]) == 0
    assert "a magneto" in capsys.readouterr().out


def test_the_example_is_what_its_maker_makes(tmp_path: Path) -> None:
    from coilbench.capture.imagined import example

    assert EXAMPLE.read_text(encoding="ascii") == example()


def test_the_contacts_own_bounces_are_not_called_openings_of_nothing(battery: Imagined) -> None:
    """What is found besides the real openings lies at a parting of the model's contacts: a bounce, not an invention."""
    found = analyse(parse(battery.csv().encode()))
    partings = np.array(battery.truth.partings)
    assert len(partings) >= len(battery.truth.opening_times)
    for one in found.breaks:
        assert np.abs(partings - one.time).min() < NEAR


def test_a_break_before_the_first_sample_does_not_make_the_zero_nan(battery: Imagined) -> None:
    """The ring after it would begin before the trace; "the current's zero is far off, by about nan A" was once said of it."""
    trace = parse(battery.csv().encode())
    found = Found("battery", trace, [Break(-2e-5, 1e-6, 5.0)])
    zero = _zero(found, even(trace.time, trace.values["current"]), Known())
    assert np.isfinite(zero.value)
    assert not re.search(r"\bnan\b", " ".join(found.sentences))
    assert "taken to be right" in found.sentences[0]


def test_a_title_of_quotation_marks_is_called_by_its_number(magneto: Imagined) -> None:
    rows_ = magneto.csv().strip().split("\n")
    text = "\n".join(["',current_A,contact_V", "," + rows_[1].split(",", 1)[1], *rows_[2:]])
    said = parse(text.encode(), Asked(time="1:s")).messages
    assert any(line.startswith("Row 2, column '1': empty") for line in said), said
