"""The rules that nothing is skipped in CI and that no test hangs it, shown on small test files run by a pytest of their own."""

from __future__ import annotations

import contextlib
import http.server
import os
import shutil
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

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


HANGING = {
    "asleep": "import time\ndef test_it(): time.sleep(600)\ndef test_next(): pass",
    "deaf": "def test_it(): sum(iter(int, 1))\ndef test_next(): pass",  # as a loop in compiled code: no signal is heard
    "in_fixture": ("import pytest, time\n@pytest.fixture\ndef slow(): time.sleep(600)\n"
                   "def test_it(slow): pass\ndef test_next(): pass"),
}
"""Tests that would never end, each with one after it in its file, which must run nevertheless."""


def test_no_test_hangs_a_run(tmp_path: Path) -> None:
    shutil.copy(ROOT / "tests" / "conftest.py", tmp_path)
    for name, text in HANGING.items():
        (tmp_path / f"test_{name}.py").write_text(text)
    (tmp_path / "test_waits.py").write_text(  # who waits long for the book does not count as hanging
        "import pytest, time\n@pytest.fixture\ndef html(): time.sleep(4)\ndef test_it(html): pass")
    limits = ["-o", "timeout=3", "-o", "faulthandler_timeout=6", "-o", "faulthandler_exit_on_timeout=true"]
    command = [sys.executable, "-m", "pytest", "-n", "2", "--dist", "loadscope", "-p", "no:cacheprovider", *limits,
               "--rootdir", str(tmp_path), str(tmp_path)]
    wide = {**os.environ, "COLUMNS": "300"}
    done = subprocess.run(command, cwd=tmp_path, env=wide, capture_output=True, text=True, timeout=120)
    assert done.returncode == 1, done.stdout
    assert "2 failed, 4 passed, 1 error" in done.stdout.splitlines()[-1], done.stdout
    assert done.stdout.count("Timeout (>3.0s) from pytest-timeout") >= 2
    assert "crashed while running 'test_deaf.py::test_it'" in done.stdout
    assert f'{tmp_path / "test_deaf.py"}", line 1 in test_it' in done.stderr  # where it stood


class Restless(http.server.BaseHTTPRequestHandler):
    """Every page of this server goes on to the next after 5 ms."""

    def do_GET(self) -> None:
        """Answer."""
        page = b"<!doctype html><script>setTimeout(() => { location.href = '/' + Math.random(); }, 5)</script>"
        self.send_response(200)
        self.send_header("content-type", "text/html")
        self.send_header("content-length", str(len(page)))
        self.end_headers()
        with contextlib.suppress(OSError):
            self.wfile.write(page)

    def log_message(self, format: str, *args: object) -> None:
        """Say nothing."""


@pytest.mark.browser
@pytest.mark.slow
def test_a_page_that_is_being_left_is_closed(need_chromium: str, playwright_driver: Any) -> None:
    """Without the conftest's `surely_closed` the first one of them hangs."""
    browser = playwright_driver.chromium.launch(executable_path=need_chromium, args=["--no-sandbox", "--disable-gpu"])
    context = browser.new_context()
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Restless) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        for _ in range(3):
            page = context.new_page()
            page.goto(f"http://127.0.0.1:{server.server_port}/")
            page.close()
            assert page.is_closed()
        browser.close()
        server.shutdown()
