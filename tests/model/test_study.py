"""Tolerance studies: the plan and its sentences, what is drawn, the causes against published values, and what the files hold."""

from __future__ import annotations

import json
import math
import zipfile
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from coilmodel import Machine, MagnetoDrive, simulate
from coilmodel.sparks import by_pulse
from coilmodel.study import find, parse_plan, read_plan, run_study, template
from coilmodel.study.draw import values
from coilmodel.study.findings import Share, from_dict, indices, of_function, share
from coilmodel.study.plan import DRIVES, Plan, numbers
from coilmodel.study.store import Study
from coilmodel.study.trial import REFUSED, columns, outcome

SHORT = """
[study]
runs = 64
pulses = 3
warm_up = 1
[vary]
"cushion.preload" = {like = "lognormal", percent = 25}
"drive.rpm" = {like = "uniform", low = 400, high = 600}
"""


def changed(**words: str) -> str:
    """Return the short plan with lines replaced, as in changed(runs="runs = 3")."""
    lines = [words.pop(line.split(" ")[0], line) for line in SHORT.splitlines()]
    assert not words
    return "\n".join(lines)


@pytest.fixture(scope="module")
def short(tmp_path_factory: pytest.TempPathFactory) -> Study:
    """A small study, done."""
    return run_study(parse_plan(SHORT), tmp_path_factory.mktemp("study") / "short", n_jobs=1)


# ------------------------------------------------------------------------------------------------------------- plan
def test_the_template_is_a_plan(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_text(template(), encoding="utf-8-sig")  # as some editors save it
    plan = read_plan(path)
    assert {"vibrator.preload", "cushion.preload", "gap.breakdown", "drive.drive", "drive.rpm"} <= {v.name for v in plan.vary}
    assert (plan.runs, plan.roles, plan.total) == (4096, len(plan.vary) + 2, 4096 * (len(plan.vary) + 2))
    assert all(one.nominal == numbers()[one.name].nominal for one in plan.vary)


def test_names_may_be_quoted_or_not_and_a_fixed_number_is_the_middle() -> None:
    plan = parse_plan('[study]\ncauses = false\nruns = 3\n[machine]\ncushion.preload = 1.6\n"vibrator.preload" = 3.0\n'
                      '[vary]\nvibrator.stiffness = {like = "normal", percent = 5}\n'
                      '[vary.cushion.preload]\nlike = "normal"\npercent = 10\n[drive]\nrpm = 300\n')
    assert dict(plan.fixed) == {"cushion.preload": 1.6, "vibrator.preload": 3.0, "drive.rpm": 300.0}
    assert [one.name for one in plan.vary] == ["vibrator.stiffness", "cushion.preload"]
    assert dict(plan.vary[1].words) == pytest.approx({"middle": 1.6, "deviation": 0.16})


BAD = [
    ("study = 3", "study: 3 is not a table"),
    ("[study\n", "is not TOML"),
    (changed(runs="runs = 65"), "study.runs: 65 is not a power of two from 64 to 1048576"),
    (changed(runs="runs = -1"), "study.runs: -1 is outside 1 to 4e+06"),
    (changed(runs='runs = "many"'), "study.runs: 'many' is not a number"),
    (changed(runs="runs = 1048576"), "make 4194304 runs of the model; allowed are up to 4000000"),
    (changed(pulses="pulses = 2.5"), "study.pulses: 2.5 is not a whole number"),
    (changed(warm_up="warmup = 1"), "study.warmup: is no field of a plan"),
    (SHORT.replace("preload", "prelaod"), "cushion.prelaod: is no number of the machine or its drive; did you mean cushion.pre"),
    (SHORT.replace("lognormal", "gaussian"), "vary.cushion.preload.like: 'gaussian' is no distribution that a study knows"),
    (SHORT.replace("percent = 25", "percent = -5"), "vary.cushion.preload.percent: -5 % is outside 1e-06 to 300 %"),
    (SHORT.replace("percent = 25", "sigma = 5"), "vary.cushion.preload.sigma: is no word of lognormal"),
    (SHORT.replace(", percent = 25", ""), "vary.cushion.preload.percent: is missing"),
    (SHORT.replace("low = 400", "low = 700"), "vary.drive.rpm: low 700, high 600 rpm do not ascend"),
    (SHORT.replace("low = 400", "low = 4"), "vary.drive.rpm.low: 4 rpm is outside 10 to 5000 rpm"),
    (SHORT.replace("low = 400, ", ""), "vary.drive.rpm.low: is missing"),
    (SHORT.replace("low = 400", "low = nan"), "vary.drive.rpm.low: nan rpm is not a finite number"),
    (SHORT + "[machine]\n'gap.breakdown' = 9\n", "gap.breakdown: 9 V is outside 500 to 60000 V"),
    (SHORT + "[machine]\n'drive.rpm' = 300\n", "vary.drive.rpm: stands under machine or drive too"),
    (SHORT + "[machine]\n'gap.burn' = 4000\n'gap.breakdown' = 3000\n", "the coil in the middle of the plan is refused: gap"),
    (SHORT + "[drive]\nkind = 'battery'\n", "drive.kind: 'battery' is not a drive that a study knows"),
    ("[study]\nruns = 64\n", "vary: names no number"),
    (SHORT + "'gap.breakdown' = 7\n", "vary.gap.breakdown: 7 does not say how it varies"),
]


@pytest.mark.parametrize(("text", "complaint"), BAD)
def test_a_bad_plan_gets_one_sentence(text: str, complaint: str) -> None:
    with pytest.raises(ValueError, match=r"[.?]$") as caught:
        parse_plan(text)
    assert complaint in str(caught.value)
    assert "\n" not in str(caught.value)


def test_every_number_of_the_machine_may_vary() -> None:
    for kind in DRIVES:
        for name, about in numbers(kind).items():
            low, high = sorted((0.999 * about.nominal, 1.001 * about.nominal)) if about.nominal else (0.0, 1e-3)
            plan = parse_plan(f'[study]\nruns = 1\ncauses = false\n[drive]\nkind = "{kind}"\n[vary]\n"{name}" = '
                              f'{{like = "uniform", low = {low!r}, high = {high!r}}}')
            assert low <= values(plan, 0, 1)[0, 0] <= high


# ------------------------------------------------------------------------------------------------------------ drawing
def test_what_is_drawn_follows_the_plan_and_does_not_depend_on_slices() -> None:
    plan = parse_plan("""
[study]
runs = 1024
[vary]
"cushion.preload" = {like = "lognormal", percent = 6}
"cushion.travel" = {like = "normal", deviation = 1e-5, middle = 2.5e-4}
"drive.rpm" = {like = "uniform", low = 200, high = 600}
"gap.breakdown" = {like = "triangular", low = 8e3, peak = 9e3, high = 12e3}
"condenser.leakage_resistance" = {like = "loguniform", low = 1e3, high = 1e9}
""")
    whole = values(plan, 0, plan.total)
    assert whole.shape == (1024 * 7, 5)
    for first, last in ((0, 1), (5, 23), (6001, 7168)):
        assert np.array_equal(values(plan, first, last), whole[first:last])
    arranged = whole.reshape(1024, 7, 5)
    for place in range(5):  # Saltelli's arrangement, as scipy.stats.sobol_indices wants it
        expected = arranged[:, 0].copy()
        expected[:, place] = arranged[:, 1, place]
        assert np.array_equal(arranged[:, 2 + place], expected)
    drawn = arranged[:, 0]
    expected = [stats.lognorm(0.06, scale=Machine().cushion.preload), stats.norm(2.5e-4, 1e-5), stats.uniform(200, 400),
                stats.triang(0.25, 8e3, 4e3), stats.loguniform(1e3, 1e9)]
    for place, distribution in enumerate(expected):
        # Evenly spread points come nearer to their distribution than any drawn by lot (whose bound would be 0.04 here).
        assert stats.kstest(drawn[:, place], distribution.cdf).statistic < 0.004
    without = parse_plan("[study]\ncauses = false\nruns = 10\n[vary]\n'drive.rpm' = {like = 'uniform', low = 200, high = 600}")
    assert values(without, 0, 10).shape == (10, 1)


# ---------------------------------------------------------------------------------------------------------- causes
def test_the_causes_of_the_ishigami_function_are_the_published_ones() -> None:
    """Ishigami's function, a = 7, b = 0.1: Saltelli et al., Global Sensitivity Analysis: The Primer, 2008, ch. 4, exercise 5.

    (Pages 179-182, as scipy's own tests cite it, with its slip in one term mended
    there.) With 8,192 coils the observed worst error is under 0.01.
    """
    def ishigami(x: np.ndarray) -> np.ndarray:
        return np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])

    first, total = (0.31390519, 0.44241114, 0.0), (0.55758886, 0.44241114, 0.24368366)
    got = of_function(ishigami, [-math.pi] * 3, [math.pi] * 3, 8192)
    assert got.first == pytest.approx(first, abs=0.015)
    assert got.total == pytest.approx(total, abs=0.015)
    for limits, published in ((got.first_limits, first), (got.total_limits, total)):
        assert np.all(limits[0] <= np.array(published) + 1e-3)
        assert np.all(limits[1] >= np.array(published) - 1e-3)
        assert np.all(limits[1] - limits[0] < 0.12)


def test_the_causes_of_a_yes_or_no_are_those_of_its_closed_form() -> None:
    """x, y even on (0, 1), misfire where x < a and y < b: the variances of conditional means and what they leave, by hand."""
    a, b = 0.5, 0.3
    p = a * b
    first = (b * b * a * (1 - a) / (p * (1 - p)), a * a * b * (1 - b) / (p * (1 - p)), 0.0)
    total = (b * a * (1 - a) / (p * (1 - p)), a * b * (1 - b) / (p * (1 - p)), 0.0)  # E[var given the others] / variance
    got = of_function(lambda x: (x[:, 0] < a) & (x[:, 1] < b), [0.0] * 3, [1.0] * 3, 4096)
    assert got.first == pytest.approx(first, abs=0.03)
    assert got.total == pytest.approx(total, abs=0.03)


def test_a_single_number_is_the_whole_cause() -> None:
    got = of_function(lambda x: x[:, 0] > 0.3, [0.0], [1.0], 1024)
    assert (got.first, got.total) == (pytest.approx([1.0], abs=0.02), pytest.approx([1.0], abs=0.02))


def test_where_nothing_varies_there_is_no_cause() -> None:
    assert np.isnan(indices(np.ones(64 * 5), 5, 10).total).all()


def test_the_limits_of_a_share_are_wilsons() -> None:
    """10 of 20: Wilson's 95 % interval is 0.299 to 0.701 (Brown, Cai and DasGupta, Statistical Science 16, 2001, formula 4)."""
    got = share(np.arange(20) < 10)
    z = stats.norm.ppf(0.975)
    middle, half = (10 + z**2 / 2) / (20 + z**2), z * math.sqrt(20) / (20 + z**2) * math.sqrt(0.25 + z**2 / 80)
    assert (got.count, got.of, got.low, got.high) == (10, 20, pytest.approx(middle - half), pytest.approx(middle + half))
    assert share(np.zeros(0, bool)) == Share(0, 0, 0.0, 1.0)


# ---------------------------------------------------------------------------------------------- against the model itself
def test_a_study_of_4096_gives_the_share_that_direct_runs_give(tmp_path: Path) -> None:
    plan = parse_plan(changed(runs="runs = 4096\ncauses = false"))
    study = run_study(plan, tmp_path / "s", n_jobs=2)
    wrong = 0
    for preload, rpm in zip(study["cushion.preload"], study["drive.rpm"], strict=True):
        run = simulate(Machine().but(cushion={"preload": float(preload)}), MagnetoDrive(rpm=float(rpm)), pulses=3, warm_up=1)
        wrong += any(len(sparks) != 1 or sparks[0].energy < 10e-3 for sparks in by_pulse(run))
    found = find(study)
    assert found.unsound.count == wrong
    assert found.unsound.of == 4096
    assert 0.02 < found.unsound.share < 0.98  # or the comparison would say nothing
    assert from_dict(json.loads(json.dumps(found.as_dict()))).unsound == found.unsound


def test_points_drawn_by_lot_give_the_same_share_within_its_limits(tmp_path: Path) -> None:
    plan = parse_plan(changed(runs="runs = 512\ncauses = false"))
    found = find(run_study(plan, tmp_path / "s", n_jobs=1))
    generator = np.random.default_rng(5)
    rows = np.column_stack([Machine().cushion.preload * np.exp(0.25 * generator.standard_normal(512)),
                            generator.uniform(400.0, 600.0, 512)])
    wrong = sum(outcome(plan, row)[0][1] != 3 for row in rows.tolist())
    # 4.4 standard errors: chance fails this once in a hundred thousand seeds, and the seed is fixed.
    error = math.sqrt(2.0 * found.unsound.share * (1.0 - found.unsound.share) / 512)
    assert abs(wrong / 512 - found.unsound.share) < 4.4 * error


def test_what_the_model_refuses_is_recorded_not_dropped(tmp_path: Path) -> None:
    plan = parse_plan(SHORT + '"vibrator.stop" = {like = "normal", middle = 6e-4, deviation = 1e-4}\n')
    study = run_study(plan, tmp_path / "s", n_jobs=1)
    refused = study["status"] == REFUSED
    beyond = study["vibrator.stop"] > 0.8 * Machine().coil.magnetic_gap
    assert np.array_equal(refused, beyond)
    assert 10 < refused.sum() < len(study) - 10
    assert len(study) == plan.total
    assert np.isnan(study["opening_current"][refused]).all()
    assert not study["pulses_single"][refused].any()
    told = study.about["refused"]
    assert set(map(int, told)) == set(np.flatnonzero(refused)[:1000])
    assert all("vibrator.stop" in text and text.endswith(".") for text in told.values())
    found = find(study)
    assert (found.refused, found.refused_coils) == (refused.sum(), (refused & (study["role"] < 2)).sum())
    assert found.unsound.of == found.coils - found.refused_coils


def test_under_a_timer_a_pulse_is_a_window(tmp_path: Path) -> None:
    plan = parse_plan("[study]\nruns = 64\ncauses = false\npulses = 2\n[drive]\nkind = 'timer'\nwindow_start = 65\n"
                      "window_width = 28\n[vary]\n'vibrator.preload' = {like = 'lognormal', percent = 5}\n")
    assert plan.warm_up == 0
    study = run_study(plan, tmp_path / "s", n_jobs=1)
    assert (study["pulses_single"] + study["pulses_multiple"] <= 2).all()
    assert (study["pulses_misfired"] <= 2).all()
    angles = study["firing_angle"]
    assert (angles[np.isfinite(angles)] > 65.0).all()


# ------------------------------------------------------------------------------------------------------------- the file
def test_the_file_is_a_zip_of_npy_columns_that_numpy_reads(short: Study) -> None:
    plan: Plan = parse_plan(SHORT)
    with np.load(short.path) as file:  # numpy alone, nothing of ours
        about = json.loads(file["about.json"].decode() if hasattr(file["about.json"], "decode") else bytes(file["about.json"]))
        assert about["schema"] == 2
        for column in about["columns"]:
            assert file[column["name"]].dtype.str == np.dtype(column["type"]).str
            assert file[column["name"]].shape == (plan.total,)
            assert np.array_equal(file[column["name"]], short[column["name"]], equal_nan=True)
            assert column["meaning"]
        assert [column["name"] for column in about["columns"]] == [column.name for column in columns(plan)]
        units = {column["name"]: column["unit"] for column in about["columns"]}
    assert (units["cushion.preload"], units["opening_current"], units["firing_angle"]) == ("N", "A", "degree")
    assert about["plan"]["seed"] == 1
    assert np.array_equal(short["run"], np.arange(plan.total))
    with zipfile.ZipFile(short.path) as archive:
        assert {item.date_time for item in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert sum(len(rows) for rows in short.rows(50)) == plan.total


def test_a_row_is_what_the_model_says_of_its_numbers(short: Study) -> None:
    plan = parse_plan(SHORT)
    for run in (0, 77, 255):
        row, _ = outcome(plan, [float(short[one.name][run]) for one in plan.vary])
        kept = [float(short[column.name][run]) for column in columns(plan)[-len(row):]]
        assert kept == pytest.approx(row, abs=0.0, nan_ok=True)


def test_another_layout_or_no_study_at_all_is_refused(tmp_path: Path, short: Study) -> None:
    other = tmp_path / "runs.npz"
    other.write_bytes(b"nothing")
    with pytest.raises(ValueError, match="is not the result of a study"):
        Study(other)
    with zipfile.ZipFile(other, "w") as archive:
        archive.writestr("about.json", json.dumps({**short.about, "schema": 99}))
    with pytest.raises(ValueError, match="has layout 99; this course reads layout 2"):
        Study(other)
    with pytest.raises(KeyError, match="sparks: is no column"):
        short["sparks"]


LITERALS = ("[]", "[1, 2]", "{}", "{a = 1}", "true", "nan", "inf", "-inf", '"x"', '""', "1979-05-27", "-0.0", "1e400", "-1", "0",
            "1e-300", "9999999999999999999", "{like = 3}",
            '{like = "uniform", low = 1, high = true}', '{like = "normal", percent = {}}')


@pytest.mark.parametrize("literal", LITERALS)
def test_whatever_stands_for_a_value_the_answer_is_a_plan_or_a_sentence(literal: str) -> None:
    """Every value of a whole plan, one after the other, is replaced by something odd."""
    whole = SHORT.replace("[vary]", "causes = true\nseed = 3\n[drive]\nkind = 'magneto'\ndrive = 1.0\n[machine]\n"
                          "'gap.burn' = 600\n[machine.vibrator]\npreload = 3.0\n[vary]")
    lines = whole.splitlines()
    cases = [(place, line.split(" = ")[0] + " = " + literal) for place, line in enumerate(lines) if " = " in line]
    cases += [(place, line.replace(word, literal)) for place, line in enumerate(lines) for word in ('"lognormal"', "25", "400")
              if word in line]
    cases += [(0, f"{table} = {literal}") for table in ("study", "drive", "machine", "vary", "other")]
    for place, line in cases:
        said = outcome_of("\n".join([*lines[:place], line, *lines[place + 1:]]))
        assert "\n" not in said
        assert said.endswith((".", "?"))


def outcome_of(text: str) -> str:
    """Return the sentence with which a plan is refused, or one that says that it is good."""
    try:
        plan = parse_plan(text)
    except ValueError as error:
        return str(error)
    assert values(plan, 0, 1).shape == (1, len(plan.vary))
    return "It is good."
