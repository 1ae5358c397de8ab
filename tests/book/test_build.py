"""The steps of the book's build, and what it leaves on the disk."""

from __future__ import annotations

import dataclasses
import json
import re
import zipfile
from array import array
from pathlib import Path

import pytest

from book.making import kernel_module, machine_pages, notebooks, parts, plain, weigh
from book.making.places import BuildError
from coilmodel import MagnetoDrive, kernel, search
from coilmodel.machine import Machine

from .browsing import LESSON, ROOT

ENGINE = """
class Engine:
    def handle_json(self, text):
        return "{}", []
"""


def small_course(root: Path, **files: str) -> Path:
    """Write a course of a few small files (given as package__module="source") and return its root."""
    sources = {
        "lessons____init__": "", "lessons__engine": ENGINE, "lessons__panels____init__": "PANELS = {}",
        "lessons__exercises____init__": "EXERCISES = {}", "coilmodel____init__": "", **files,
    }
    for name, source in sources.items():
        path = root.joinpath(*name.replace("____init__", "__@init").split("__"))
        path = path.with_name(path.name.replace("@init", "__init__") + ".py")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(source, encoding="utf-8")
    return root


def zipped(root: Path) -> Path:
    path = root / "course.zip"
    path.write_bytes(plain.zip_of(plain.plain_modules(root), root))
    return path


def test_the_zip_holds_what_the_engine_imports_and_nothing_else(tmp_path):
    root = small_course(
        tmp_path, lessons__engine="from lessons.contracts import x" + ENGINE, lessons__contracts="x = 1",
        lessons__panels__cushion="def compute():\n    from coilmodel.run import simulate",
        coilmodel__run="from .kernel import step", coilmodel__kernel="step = 1",
        coilmodel__sweep="import numpy", lessons__face="import matplotlib",
    )
    assert set(zipfile.ZipFile(zipped(root)).namelist()) == {
        "coilmodel/__init__.py", "coilmodel/kernel.py", "coilmodel/run.py", "lessons/__init__.py", "lessons/contracts.py",
        "lessons/engine.py", "lessons/exercises/__init__.py", "lessons/panels/__init__.py", "lessons/panels/cushion.py",
    }
    assert plain.check_plain(zipped(root)) == (0, 0)


def test_the_same_content_gives_the_same_zip(tmp_path):
    first = zipped(small_course(tmp_path / "one")).read_bytes()
    assert zipped(small_course(tmp_path / "two")).read_bytes() == first


def test_an_engine_that_needs_more_than_the_standard_library_is_refused_by_name(tmp_path):
    root = small_course(tmp_path, lessons__engine="import coilmodel.run" + ENGINE, coilmodel__run="import numpy")
    with pytest.raises(BuildError, match="numpy"):
        plain.check_plain(zipped(root))


def test_a_panel_that_fails_in_the_page_is_refused(tmp_path):
    failing = 'class Engine:\n    def handle_json(self, text):\n        return \'{"error": "The panel is broken."}\', []\n'
    with pytest.raises(BuildError, match="The panel is broken"):
        plain.check_plain(zipped(small_course(tmp_path, lessons__engine=failing)))


def notebook(path: Path, *sources: str) -> Path:
    cells = [{"cell_type": "code", "id": f"c{index}", "metadata": {"tags": ["hide-input"]}, "source": source, "outputs": [],
              "execution_count": None} for index, source in enumerate(sources)]
    path.write_text(json.dumps({"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}), encoding="utf-8")
    return path


def test_an_engine_that_ends_amid_a_call_of_the_kernel_is_refused(tmp_path):
    dies = "import os\nfrom array import array\nimport page_kernel\nclass Hard:\n    def __len__(self): return 1\n" \
           "    def tobytes(self): os._exit(0)\npage_kernel.call('advance', array('d', [1.0]), Hard())"
    with pytest.raises(BuildError, match="does not run in the page"):
        plain.check_plain(zipped(small_course(tmp_path, lessons__engine=dies + ENGINE)))


def test_the_engine_gets_the_kernels_numbers_from_the_build(tmp_path):
    name, (given, *rest) = kernel_module.call_of(Machine(), MagnetoDrive(), 1)
    plain_ones = [array("d", one) for one in rest]
    kernel.advance(tuple(given), *plain_ones)
    asks = f"""
import page_kernel
from array import array
given = [array("d", {list(given)}), *(array("d", bytes(8 * size)) for size in {list(map(len, rest))})]
page_kernel.call({name!r}, *given)
if abs(given[3][0] - {plain_ones[2][0]!r}) > 1e-9 * abs(given[3][0]) or not given[3][0]:
    raise SystemExit(f"the ledger begins with {{given[3][0]}}")
"""
    assert plain.check_plain(zipped(small_course(tmp_path, lessons__engine=asks + ENGINE))) == (0, 0)


def test_a_notebook_is_run_anew_when_it_or_the_packages_change_and_only_then(tmp_path):
    lesson, cache = notebook(tmp_path / "05_x.ipynb", "print(6 * 7)"), tmp_path / "cache"
    first, ran = notebooks.executed(lesson, cache, "packages as they are")
    assert ran
    assert "42" in str(json.loads(first)["cells"][0]["outputs"])
    assert notebooks.executed(lesson, cache, "packages as they are") == (first, False)
    changed = notebooks.notebook_key(lesson, "packages changed")
    assert changed not in {path.name.split(".")[1] for path in cache.iterdir()}
    lesson.write_bytes(lesson.read_bytes() + b" ")
    assert notebooks.executed(lesson, cache, "packages changed")[1]
    assert [path.name.split(".")[1] for path in cache.iterdir()] == [notebooks.notebook_key(lesson, "packages changed")]


def test_the_digest_of_the_packages_follows_a_change_of_the_model(tmp_path):
    root = small_course(tmp_path, coilmodel__kernel="step = 1")
    before = notebooks.package_digest(root)
    assert notebooks.package_digest(root) == before
    (root / "coilmodel/kernel.py").write_text("step = 2", encoding="utf-8")
    assert notebooks.package_digest(root) != before


def test_a_cell_that_fails_is_named_with_its_error(tmp_path):
    with pytest.raises(BuildError, match=r"05_x\.ipynb: a cell fails with ValueError: too slack"):
        notebooks.run_notebook(notebook(tmp_path / "05_x.ipynb", "raise ValueError('too slack')"))


SHOWN = {"text/html": "<coil-panel name=x></coil-panel>", "text/plain": "x", notebooks.WIDGET: {}}


def cell_showing(data: dict) -> dict:
    cell = {"cell_type": "code", "metadata": {"tags": ["hide-input"]}, "source": "panel('x')", "outputs": [{"data": data}]}
    return {"cells": [cell], "metadata": {"widgets": {}}}


def test_a_widget_gives_way_to_its_stand_in():
    node = notebooks.for_readers(notebooks.without_widgets(cell_showing(dict(SHOWN))))
    assert set(node["cells"][0]["outputs"][0]["data"]) == {"text/html", "text/plain"}
    assert node["cells"][0]["metadata"]["tags"] == ["remove-input", "full-width"]
    assert node["metadata"] == {}


def test_a_widget_without_a_stand_in_is_refused():
    with pytest.raises(BuildError, match="panel\\('x'\\)"):
        notebooks.without_widgets(cell_showing({notebooks.WIDGET: {}, "text/plain": "x"}))


@pytest.mark.parametrize(("value", "unit", "text"), [
    (2.6e-3, "H", "2.6 mH"), (0.45e-6, "F", "450 nF"), (60e-12, "F", "60 pF"), (1.0e-3, "kg", "1 g"), (0.93, "1", "0.93"),
    (1.0e6, "N/m", "1e+06 N/m"), (0.0, "V", "0 V"), (20e6, "ohm", "20 Mohm"), (0.85, "A", "850 mA"), (0.99999, "A", "1 A"),
    (8, "1", "8"),
])
def test_a_quantity_is_written_as_people_write_it(value, unit, text):
    assert machine_pages.quantity(value, unit) == text


def test_the_nominal_page_names_every_number_of_the_machine_and_every_target():
    page = machine_pages.nominal_page()
    for part in dataclasses.fields(Machine):
        for item in dataclasses.fields(getattr(Machine(), part.name)):
            assert item.metadata.get("meaning", item.name) in page
    assert page.count("| P") == len(search.TARGETS)


def test_a_wide_table_is_let_into_the_margin():
    assert machine_pages.wide_tables("a\n| b |\n|---|\nc\n") == "a\n:::{div} full-width dense\n| b |\n|---|\n:::\nc\n"


def test_no_page_names_another_host(html):
    loads = re.compile(r'<(?:script|link|img|iframe|source)\b[^>]*?\b(?:src|href|srcset)="((?:https?:)?//[^"]*)"')
    for page in html.rglob("*.html"):
        assert loads.findall(page.read_text(encoding="utf-8")) == [], page.name


def test_the_weights_stay_within_what_was_promised(html):
    for page in (html / "index.html", html / LESSON):
        assert weigh.weight(weigh.page_files(page))[1] < 1_000_000
    assert weigh.weight(weigh.page_files(html / "index.html"))[0] < 1_000_000
    assert weigh.weight(weigh.live_start(html))[1] < 8_000_000


def test_the_theme_keeps_only_the_icons_in_use_and_all_of_those(html):
    text = (html / "_static/scripts/fontawesome.js").read_text(encoding="utf-8")
    assert len(text) < 150_000
    assert {"magnifying-glass", "bars", "sun", "moon", "download", "list"} <= parts.icon_names(text)
    assert len(parts.icon_names(text)) < 200


def test_the_notebook_offered_is_the_one_its_author_wrote(html):
    name = Path(LESSON).with_suffix(".ipynb").name
    assert (html / "_sources/lessons" / name).read_bytes() == (ROOT / "lessons" / name).read_bytes()
