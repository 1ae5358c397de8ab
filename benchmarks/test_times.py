"""Which tests are slow: `python benchmarks/test_times.py [pytest's words]` measures each and writes tests/slow.txt.

What counts is the time of a processor, the test's own and that of the processes it waited for, so a busy machine changes
little. tests/conftest.py marks as slow what the list names, whole functions, beside what is marked in the files; `course.py test
--quick` leaves it out. Only what was run is judged anew; the rest of the list stays.
"""

from __future__ import annotations

import os
import sys
from collections import defaultdict
from collections.abc import Generator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
LIST = ROOT / "tests" / "slow.txt"
LIMIT = 0.5  # seconds of a processor that one case may take
HEAD = f"""# Tests that take over {LIMIT:g} s of a processor a case.
# benchmarks/test_times.py writes them, tests/conftest.py reads them.
"""


class Clock:
    """A plugin of pytest that notes how many seconds of a processor each test took, fixtures included."""

    def __init__(self) -> None:
        self.seconds: dict[str, list[float]] = defaultdict(list)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, object, object]:
        """Time one test."""
        before = sum(os.times()[:4])
        result = yield
        self.seconds[item.nodeid.partition("[")[0]].append(sum(os.times()[:4]) - before)
        return result


def listed(known: set[str], seconds: dict[str, list[float]]) -> list[str]:
    """Return the list: what it held but for the tests that were run, and those of them that took long."""
    return sorted((known - seconds.keys()) | {test for test, each in seconds.items() if max(each) > LIMIT})


def main(words: list[str]) -> int:
    """Run the tests that `words` name (all that need no browser), write the list, print the longest."""
    clock = Clock()
    status = pytest.main(["-q", "-p", "no:cacheprovider", "-m", "not browser", *words], plugins=[clock])
    known = {line for line in LIST.read_text().splitlines() if line and line[0] != "#"} if LIST.is_file() else set()
    LIST.write_text(HEAD + "".join(f"{test}\n" for test in listed(known, clock.seconds)))
    for test, each in sorted(clock.seconds.items(), key=lambda one: -max(one[1]))[:20]:
        print(f"{max(each):8.1f} s  {test} ({len(each)} cases, {sum(each):.1f} s in all)")
    return int(status)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
