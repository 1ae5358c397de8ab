"""Every panel of every lesson, in the book and in JupyterLab: moved by key and by mouse, another picture, the native readings.

And of each kind of exercise one, answered by a known belief and then rightly; then the accessibility audit of what lives. Each
page of the book is opened once, and JupyterLab is, too: the lessons are opened in it one after the other, as a reader does.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from lessons.engine import Engine
from lessons.exercises import EXERCISES

from . import lab
from .browsing import ROOT, Profile, Visit, after_painting, assert_wrong_and_right, live, moved_by_key_and_by_mouse, serious

pytestmark = [pytest.mark.browser, pytest.mark.slow]

LESSONS = sorted((ROOT / "lessons").glob("[0-9]*.ipynb"))
# the first exercise of each kind, each from another lesson where that can be
SAMPLE: dict[str, str] = {}


def _rarity(kind: str) -> int:
    """Return in how many lessons there is an exercise of this kind."""
    return len({one.lesson for one in EXERCISES.values() if one.kind == kind})


for _exercise in sorted(EXERCISES.values(), key=lambda one: (_rarity(one.kind), -one.lesson)):  # the rare kinds choose first
    if _exercise.lesson not in [EXERCISES[key].lesson for key in SAMPLE.values()]:
        SAMPLE.setdefault(_exercise.kind, _exercise.key)
# A panel whose sliders move nothing before something is chosen, and the preset that chooses.
BEGIN = {"bench_steps": "Meter and condenser first"}


def sampled(notebook: Path) -> dict[str, int]:
    """Return {key: cell} of the notebook's exercises that are of the sample."""
    return {key: cell for key, cell in lab.cells_showing(notebook, "exercise").items() if key in SAMPLE.values()}


def moved(panel: Any, engine: Engine) -> None:
    """Move the panel by key and by mouse; of one without a slider, a drawing, press a part."""
    if not panel.locator("input[type=range]").count():
        panel.locator(".part .badge").first.click()
        named = panel.locator(".part").first.get_attribute("data-part")
        assert panel.locator(".named").inner_text().lower().startswith(f"{named}: ")
        return
    preset = BEGIN.get(panel.get_attribute("name"))
    if preset:
        after_painting(panel, panel.get_by_role("button", name=preset).click)
    moved_by_key_and_by_mouse(panel, engine)


def test_the_sample_has_every_kind_and_every_panel_is_in_some_lesson():
    from lessons.panels import PANELS

    assert set(SAMPLE) == {exercise.kind for exercise in EXERCISES.values()}
    shown = {name for notebook in LESSONS for name in lab.cells_showing(notebook, "panel")}
    asked = {"first_look"}  # the start page's
    asked |= {exercise.form(exercise.variant(1)).get("panel") for exercise in EXERCISES.values()}  # those of an exercise
    assert set(PANELS) <= shown | asked


@pytest.mark.parametrize("notebook", LESSONS, ids=lambda path: path.stem)
def test_in_the_book(visit: Visit, notebook: Path):
    page, engine = visit.open(f"lessons/{notebook.stem}.html"), Engine()
    for name in lab.cells_showing(notebook, "panel"):
        moved(live(page, f"coil-panel[name={name}]"), engine)
    for key in sampled(notebook):
        assert_wrong_and_right(live(page, f"coil-exercise[key='{key}']"), engine)
    assert not serious(page, schemes=("light", "dark"))


@pytest.fixture(scope="module")
def jupyterlab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of one JupyterLab for all lessons."""
    home = tmp_path_factory.mktemp("a learner")
    (home / "lessons").mkdir()
    with lab.learning(home, lab.lessons_in(home / "lessons")) as address:
        yield address


@pytest.fixture(scope="module")
def desk(chromium: Any, jupyterlab: str, profile: Profile) -> Iterator[Any]:
    """That JupyterLab in a browser, where one lesson is opened after the other; at the end it has asked nobody else and reported
    no error."""
    one = Visit(chromium, jupyterlab, profile)
    yield one.open("lab")
    one.end()


@pytest.mark.parametrize("notebook", LESSONS, ids=lambda path: path.stem)
def test_in_jupyterlab(desk: Any, notebook: Path):
    engine = Engine()
    lab.opened_too(desk, notebook.name)
    for name, cell in lab.cells_showing(notebook, "panel").items():
        moved(lab.brought(desk, f"coil-panel[name={name}]", cell), engine)
    for key, cell in sampled(notebook).items():
        assert_wrong_and_right(lab.brought(desk, f"coil-exercise[key='{key}']", cell), engine)
    assert not serious(desk, within="coil-panel, coil-exercise")
    lab.asked(desk, lab.SHUT)
