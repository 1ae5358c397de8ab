"""Python for the page as bytecode: what is in the zips, that it is kept, and what is refused."""

import io
import zipfile

import pytest

from book.making import bytecode, parts, plain
from book.making.places import BuildError
from coilbench.carried import WITH_THE_COURSE


def names(content: bytes) -> set[str]:
    return set(zipfile.ZipFile(io.BytesIO(content)).namelist())


@pytest.fixture(scope="module")
def made() -> dict[str, bytes]:
    return parts.as_bytecode()


def test_every_module_of_the_course_is_there_as_bytecode_of_the_pages_python(made):
    archive = zipfile.ZipFile(io.BytesIO(made[bytecode.COURSE]))
    text = names(plain.zip_of(plain.plain_modules()))
    assert set(archive.namelist()) == {f"{name}c" if name.endswith(".py") else name for name in text}
    assert {name for name in text if not name.endswith(".py")} <= set(WITH_THE_COURSE)
    heads = {archive.read(name)[:8] for name in archive.namelist() if name.endswith(".pyc")}
    assert len(heads) == 1  # one Python made them, and none of them looks for its text's date
    assert heads.pop()[4:] == b"\x01\0\0\0"


def test_of_the_library_what_a_start_loads_is_bytecode_and_the_course_lacks_nothing_of_it(made):
    library = names(made[bytecode.LIBRARY])
    assert library >= {"dataclasses.pyc", "json/__init__.pyc", "typing.pyc"}
    assert "dataclasses.py" not in library
    before = names((parts.installed("pyodide") / bytecode.LIBRARY).read_bytes())
    gone = {name.partition("/")[0].removesuffix(".py") for name in before} - {
        name.partition("/")[0].removesuffix(".pyc").removesuffix(".py") for name in library}
    assert gone  # something is left out ...
    for module, path in plain.plain_modules().items():  # ... and no module of the page names it
        assert not {name.partition(".")[0] for name in plain.imported_names(path, module)} & gone, module


def test_the_same_python_is_compiled_once(made, monkeypatch):
    monkeypatch.setattr(bytecode, "_by_node", lambda *given: pytest.fail("it was compiled again"))
    assert parts.as_bytecode() == made


def test_a_file_that_is_no_python_is_refused_in_a_sentence_and_nothing_is_kept(tmp_path):
    wrong = io.BytesIO()
    with zipfile.ZipFile(wrong, "w") as archive:
        archive.writestr("lessons/__init__.py", "")
        archive.writestr("lessons/engine.py", "def (:")
    with pytest.raises(BuildError, match=r"Python for the page was not compiled: .*SyntaxError"):
        bytecode.compiled(wrong.getvalue(), parts.installed("pyodide"), tmp_path)
    assert not list(tmp_path.iterdir())
