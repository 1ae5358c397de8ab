"""How often the bench is right: what is kept of the trial is of today's model, good enough, and what the book says."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from typing import Any

import pytest

from coilbench import trial
from coilbench.pages import calibration_figure, calibration_markdown, kept, percent
from coilmodel import Machine


def test_the_kept_calibration_is_of_todays_model_and_priors() -> None:
    """`python -m coilbench.trial --keep coilbench/calibrated.json` makes it again (some ten minutes)."""
    assert trial.stale(kept()) == ""


def test_a_changed_model_or_prior_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    now: dict[str, Any] = {"stated": trial.stated(), "probes": trial.probes()}
    assert trial.stale(now) == ""
    assert "priors" in trial.stale(now | {"stated": now["stated"] | {"rules": [0.5]}})
    weaker = Machine().scaled(vibrator_preload=0.9)
    monkeypatch.setattr(trial, "Machine", lambda: weaker)
    assert "model has changed" in trial.stale(now)


def test_the_kept_calibration_is_good_enough() -> None:
    """What the bench promises: odds within 5 points in every tenth with enough coils, named causes right in 85 of 100."""
    found = kept()
    usual = found["sheets"]["usual"]
    assert usual["coils"] >= 2000
    for one in (*usual["likeliest"], *usual["all"]):
        if one["number"] >= trial.ENOUGH_COILS:
            assert abs(one["said"] - one["came"]) <= 0.05, one
    assert usual["sure_right"] >= 0.85
    then = usual["then"]
    assert then["steps"][-1]["right"] > then["steps"][0]["right"] + 0.2
    for key, own in usual["limits"].items():
        assert 0.88 <= own["held"] <= 0.96, key


def test_the_books_page_says_what_was_kept() -> None:
    found = kept()
    words = calibration_markdown()
    for name in found["sheets"]:
        assert percent(found["sheets"][name]["right"]) in words
    figure = calibration_figure(found)
    assert "Calibration plot. stated" in figure
    ET.fromstring(re.search(r"<svg.*</svg>", figure, re.DOTALL).group())  # type: ignore[union-attr]
