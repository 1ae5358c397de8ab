"""The rule that nothing is skipped in CI, shown to hold on small test files run by a pytest of their own."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

CASES = {
    "missing_program": "def test_it(need_ngspice): pass",
    "plain_skip": "import pytest\n@pytest.mark.skip(reason='later')\ndef test_it(): pass",
    "missing_module": "import pytest\npytest.importorskip('no_such_module')\ndef test_it(): pass",
    "empty_list": "import pytest\n@pytest.mark.parametrize('case', [])\ndef test_it(case): pass",
}


def outcome(folder: Path, text: str, ci: str) -> tuple[int, str]:
    """Run `text` as a test file beside a copy of our conftest, with no programs on the path; return status and output."""
    shutil.copy(ROOT / "tests" / "conftest.py", folder)
    (folder / "test_case.py").write_text(text)
    command = [sys.executable, "-m", "pytest", "-ra", "-p", "no:cacheprovider", "--rootdir", str(folder), str(folder)]
    variables = {**os.environ, "CI": ci, "PATH": str(folder), "COLUMNS": "300"}
    done = subprocess.run(command, cwd=folder, env=variables, capture_output=True, text=True)
    return done.returncode, done.stdout


@pytest.mark.parametrize("case", CASES)
def test_a_skip_fails_in_ci_only(case: str, tmp_path: Path) -> None:
    status, output = outcome(tmp_path, CASES[case], ci="")
    assert status in (0, 5), output  # 5: the only test file was skipped whole
    assert "1 skipped" in output
    status, output = outcome(tmp_path, CASES[case], ci="true")
    assert status not in (0, 5), output
    assert "skipped" not in output.splitlines()[-1]


def test_a_missing_program_is_named_with_its_package(tmp_path: Path) -> None:
    for ci in ("", "true"):
        _, output = outcome(tmp_path, CASES["missing_program"], ci)
        assert "needs ngspice" in output
        assert "apt-get install ngspice" in output


def test_an_ordinary_test_passes_in_ci(tmp_path: Path) -> None:
    status, output = outcome(tmp_path, "def test_it(): pass", ci="true")
    assert status == 0, output
