"""What a study says to people: words, pictures, page, progress; and that the book's study is one of this very model."""

from __future__ import annotations

import gc
import io
import json
import logging
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from coilbench import results_page, study, study_report
from coilmodel.study import Findings, Study, find, parse_plan, run_study, template
from coilmodel.study.draw import values
from coilmodel.study.origin import model_digest
from coilmodel.study.trial import outcome

PLAN = """
[study]
runs = 64
pulses = 3
warm_up = 1
[machine]
"vibrator.preload" = 2.3
[vary]
"cushion.preload" = {like = "lognormal", percent = 25}
"drive.rpm" = {like = "uniform", low = 200, high = 500}
"""


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> Study:
    """A small study, done."""
    return run_study(parse_plan(PLAN), tmp_path_factory.mktemp("study") / "s", n_jobs=1)


def test_the_words_hold_the_findings(done: Study) -> None:
    findings = find(done)
    told = " ".join(study_report.summary(done.plan, findings))
    share = findings.unsound
    assert f"{100 * share.share:.1f} % ({100 * share.low:.1f} % to {100 * share.high:.1f} %; {share.count} of {share.of})" in told
    strongest = findings.causes[0]
    assert f"{study_report.called(strongest.name)} {strongest.total[0]:.2f}" in told
    assert "refused" not in told
    told = " ".join(study_report.summary(done.plan, replace(findings, refused=7, refused_coils=2, open_ledgers=3)))
    assert "The model refused 7 of 256 runs, 2 of 128 coils" in told
    assert "In 3 runs more than 1 % of the energy" in told


def nothing_wrong(findings: Findings) -> Findings:
    """Return the findings of a study without a misfire."""
    none = replace(findings.unsound, count=0)
    return replace(findings, unsound=none, misfire=none, multiple=none)


def test_a_study_without_a_misfire_is_told_too(done: Study) -> None:
    clean = nothing_wrong(find(done))
    assert "nothing can be said of causes" in " ".join(study_report.summary(done.plan, clean))
    assert study_report.pictures(done.plan, clean) == []
    assert "<img" not in study_report.page(done.plan, clean)


def test_the_page_needs_nothing_beside_itself(done: Study) -> None:
    page = study_report.page(done.plan, find(done))
    assert page.count('src="data:image/png;base64,') == 3
    assert page.count("alt=") == 3
    assert "http" not in page
    assert "Set otherwise than nominal" in page
    assert "3 N" in page
    assert study_report.CAUTION[:40] in page


def test_progress_shows_rate_and_time_left() -> None:
    clock = iter([0.0, 10.0, 20.0, 50.0])
    shown = io.StringIO()
    bar = study.Bar(shown, lambda: next(clock))
    for done in (100, 200, 300, 600):  # 100 were there before
        bar(done, 100, 600)
    lines = shown.getvalue().splitlines()
    assert "100 of 600 runs" in lines[0]
    assert "200 of 600 runs, 10 a second, 40 s left" in lines[1]
    assert lines[-1].endswith("600 of 600 runs, 10 a second, 50 s")


def test_the_command_says_what_is_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan = tmp_path / "p.toml"
    assert study.main([]) == 2
    assert study.main([str(plan)]) == 1
    assert "cannot be read" in capsys.readouterr().err
    assert study.main(["--new", str(plan)]) == 0
    assert plan.read_text(encoding="utf-8") == template()
    assert study.main(["--new", str(plan)]) == 1
    assert "exists and is left as it is" in capsys.readouterr().err
    plan.write_text(PLAN.replace("runs = 64", "runs = 65"))
    assert study.main([str(plan)]) == 1
    assert "p.toml: study.runs: 65 is not a power of two" in capsys.readouterr().err
    plan.write_text(PLAN)
    assert study.main([str(plan), "--workers", "0"]) == 1
    assert "--workers: 0 is outside 1 to 1024." in capsys.readouterr().err
    assert study.main([str(plan), "--workers", "2", "--dask", "tcp://127.0.0.1:1"]) == 1
    assert "--workers: counts processes of this machine; with --dask the cluster's workers do it" in capsys.readouterr().err
    assert study.main([str(plan), "--dask", "tcp://127.0.0.1:1", "--wait", "-1"]) == 1
    assert "--wait: -1 s is outside 0 to 1000000 s." in capsys.readouterr().err
    assert not (tmp_path / "p_study").exists()


def test_the_command_says_its_versions_and_that_no_scheduler_is_there(
        tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr(study, "CONNECT", 0.3)
    for name in ("distributed", "distributed.client", "distributed.core", "distributed.comm"):
        logger = logging.getLogger(name)  # the command makes them still
        monkeypatch.setattr(logger, "level", logger.level)
    assert study.main(["--versions"]) == 0
    said = capsys.readouterr().out
    assert f"  model        {model_digest()}\n" in said
    assert f"  python       {sys.version_info[0]}.{sys.version_info[1]}\n" in said
    plan = tmp_path / "p.toml"
    plan.write_text(PLAN)
    gc.disable()  # so that what the command leaves is there to be seen
    try:
        for address in ("tcp://127.0.0.1:1", "tls://127.0.0.1:1", "nonsense://1"):
            for words in (["--versions"], [str(plan)]):
                assert study.main([*words, "--dask", address]) == 1
                assert f"--dask: no scheduler answers at {address} (" in capsys.readouterr().err
        # A client that was never closed stops a later one for ever where it is collected while that one starts.
        assert [one.status for one in gc.get_objects() if type(one) is distributed.Client and one.status != "closed"] == []
    finally:
        gc.enable()


def test_the_book_tells_what_the_result_file_says() -> None:
    assert (results_page.RESULTS / "study_words.md").read_text(encoding="utf-8") == results_page.study_words()


def test_the_books_study_is_of_the_template_and_of_this_model() -> None:
    """Its first coils are run again: their share must agree with what the file says, or the study must be made anew."""
    plan = parse_plan(template())
    told, findings = results_page.read_study()
    assert told == json.loads(json.dumps(plan.as_dict())), "the template has changed; make the book's study anew"
    rows = values(plan, 0, 128 * plan.roles).reshape(128, plan.roles, -1)[:, :2].reshape(256, -1)
    wrong = sum(outcome(plan, row)[0][1] != plan.pulses for row in rows.tolist())
    share = findings.unsound.share
    error = (share * (1.0 - share) / 256) ** 0.5
    assert abs(wrong / 256 - share) < 3.0 * error, "the model has changed; make the book's study anew"
