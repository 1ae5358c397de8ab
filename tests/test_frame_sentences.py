"""No sentence is taken apart: what one part of the course says to another goes as data beside the words.

Looked for is what has been found so far: words of a sentence as the argument of what cuts, strips or asks how a text begins or
ends, and a pattern that has words of a sentence in it.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
CUTS = {"startswith", "endswith", "removeprefix", "removesuffix", "split", "rsplit", "partition", "rpartition"}
PATTERNS = {"match", "search", "sub", "fullmatch", "compile", "split", "findall", "finditer"}
WORDS = re.compile(r"[A-Za-z]{2,}[.:;,]? [A-Za-z(]|^[A-Z][a-z]{3,}$|^[.;:] $|^[A-Z][a-z]+ ")
"""Two words, or one with a capital, or the end of a sentence: as a person writes and no file's format does."""
READ_DOCUMENTS = {"lessons/minutes.py", "lessons/talk/said.py", "coilbench/capture/heading.py", "coilbench/capture/trace.py",
                  "lessons/face/assemble.py"}
"""What reads a lesson's text, a recorder's file or a script: documents, and no messages of ours."""
IN_SCRIPT = re.compile(r"""\.(?:startsWith|endsWith|split)\(\s*(['"`])(.*?)\1|(?<=[(,=] )/(\^?[A-Z][a-z]{3,}[^/\n]*)/""")


def literals(node: ast.Call) -> list[str]:
    """Return the texts among a call's arguments, those in a tuple too."""
    inside = [one for arg in node.args for one in (arg.elts if isinstance(arg, ast.Tuple) else [arg])]
    return [one.value for one in inside if isinstance(one, ast.Constant) and isinstance(one.value, str)]


def taken_apart(text: str, where: str) -> list[str]:
    """Return where a module's text takes a sentence apart."""
    found = []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            of_re = isinstance(node.func.value, ast.Name) and node.func.value.id == "re"
            pattern = of_re and node.func.attr in PATTERNS
            said = literals(node)[:1] if pattern else literals(node) if node.func.attr in CUTS else []
            found += [f"{where}:{node.lineno}: {one!r} is looked for in a text; let it come as data." for one in said
                      if WORDS.search(one)]
    return found


def in_script(text: str, where: str) -> list[str]:
    """Return where a script's text takes a sentence apart, or looks at how a message's text begins."""
    found = []
    for one in IN_SCRIPT.finditer(text):
        literal = one[2] if one[2] is not None else one[3]
        if WORDS.search(literal) or literal.startswith(("{", "^")):
            found.append(f"{where}:{text[:one.start()].count(chr(10)) + 1}: {literal!r} is looked for in a text.")
    return found


def test_nothing_takes_a_sentence_apart() -> None:
    found = []
    for path in sorted(path for package in ("coilbench", "lessons") for path in (ROOT / package).rglob("*.py")):
        name = path.relative_to(ROOT).as_posix()
        if name not in READ_DOCUMENTS:
            found += taken_apart(path.read_text(encoding="utf-8"), name)
    for path in sorted((*(ROOT / "lessons" / "face").glob("*.js"), *(ROOT / "book" / "live").glob("*.js"))):
        found += in_script(path.read_text(encoding="utf-8"), path.relative_to(ROOT).as_posix())
    assert not found, "\n".join(found)


@pytest.mark.parametrize("text", [  # each stood in the course once
    'x = remark.startswith("Earlier")', 'line.startswith("Earlier sparks")', 'words.endswith("mH are possible)")',
    's = said.split(". ")[0]', 're.sub(r"--new FILE makes a sheet to fill in", "", line)', 're.match(r"Row (\\d+)", line)'])
def test_it_finds_what_was_there(text: str) -> None:
    assert len(taken_apart(text, "x.py")) == 1


@pytest.mark.parametrize("text", ['name.partition("_")', 'name.endswith(".csv")', 'line.split(" ")', 'key.startswith("sparks")',
                                  're.split(r"\\r\\n|\\r|\\n", t)'])
def test_it_lets_keys_and_formats_pass(text: str) -> None:
    assert taken_apart(text, "x.py") == []


def test_it_reads_scripts_too() -> None:
    assert in_script("""if (text.startsWith('{"wants"')) {""", "x.js")
    assert in_script("const passed = test( /^Right[.:]/, said);", "x.js")
    assert not in_script("""key.startsWith("a") && name.split("-")""", "x.js")
