"""A study on a real cluster of processes: who makes other results gets nothing to do, and who dies costs time alone.

Every worker here is a process of its own on loopback. The wrong ones are wrong in one thing each.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import psutil  # comes with distributed
import pytest

from coilmodel.study import Plan, parse_plan, run_study
from coilmodel.study import cluster as study_cluster
from coilmodel.study.origin import model_digest

distributed = pytest.importorskip("distributed")
pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[2]
PLAN = """
[study]
runs = 64
pulses = 4
warm_up = 1
[vary]
"cushion.preload" = {like = "lognormal", percent = 25}
"vibrator.stop" = {like = "normal", middle = 6e-4, deviation = 5e-5}
"drive.rpm" = {like = "uniform", low = 400, high = 600}
"""
TOTAL = 320
LONG = 200.0  # s after which a wait for a process is given up; a loaded machine may need many

OTHERWISE = """
import coilmodel.study.slices as slices
honest = slices.honest = getattr(slices, "honest", slices.outcome)  # Dask runs this twice
def outcome(plan, row):
    numbers, text = honest(plan, row)
    return [*numbers[:4], numbers[4] + 1.0, *numbers[5:]], text
slices.outcome = outcome
"""
"""A model that is patched in memory: its files, and so their digest, are as they should be."""
OLD_NUMBA = """
import distributed.versions as versions
told = versions.told = getattr(versions, "told", versions.version)  # Dask runs this twice
versions.version = lambda package: "0.1.2" if package == "numba" else told(package)
"""
NO_COURSE = "import sys; sys.modules['coilmodel'] = None"


class Cluster:
    """A scheduler and its workers, each a process of its own."""

    def __init__(self, home: Path, preload: str = "") -> None:
        """Start a scheduler that keeps its files in `home`; `preload`: Python that it runs first."""
        self.home, self.count = home, 0
        self.processes: dict[str, subprocess.Popen[bytes]] = {}
        home.mkdir()
        told = home / "scheduler.json"
        self._start("scheduler", "scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
                    "--scheduler-file", str(told), preload=preload)
        try:
            wait(lambda: told.exists() and told.read_text().rstrip().endswith("}"))  # it is there before it is written
            self.address: str = json.loads(told.read_text())["address"]
        except Exception:
            self.close()  # or it stays beside the tests that follow
            raise

    def _start(self, name: str, *words: str, preload: str = "", course: Path = ROOT) -> None:
        if preload:
            first = self.home / f"before_{name}.py"
            first.write_text(preload)
            words = (*words, "--preload", str(first))
        with (self.home / f"{name}.log").open("wb") as log:
            self.processes[name] = subprocess.Popen(
                [sys.executable, "-m", "dask", *words], cwd=course, stdout=log, stderr=log,
                env={**os.environ, "PYTHONPATH": str(course), "DASK_DISTRIBUTED__WORKER__PROFILE__ENABLED": "false"})

    def worker(self, name: str, preload: str = "", course: Path = ROOT) -> None:
        """Start a worker of one thread, which nobody starts again when it dies."""
        self._start(name, "worker", self.address, "--no-nanny", "--nthreads", "1", "--no-dashboard", "--name", name,
                    "--local-directory", str(self.home / f"{name}.files"), "--host", "127.0.0.1", preload=preload, course=course)

    def kill(self, name: str) -> None:
        """Kill one of the processes for good."""
        self.processes[name].send_signal(signal.SIGKILL)
        self.processes[name].wait()

    def arrived(self, client: Any, count: int) -> None:
        """Wait until so many workers are there, or one of the processes has ended."""
        def there() -> bool:
            for name, process in self.processes.items():
                assert process.poll() is None, (self.home / f"{name}.log").read_text()
            return len(client.nthreads()) >= count

        wait(there)

    def client(self) -> Any:
        """Connect to it."""
        return distributed.Client(self.address, timeout=LONG)

    def close(self) -> None:
        """End it."""
        for process in self.processes.values():
            process.kill()
            process.wait()


def wait(until: Callable[[], object]) -> None:
    """Wait until something is so."""
    end = time.monotonic() + LONG
    while not until():
        assert time.monotonic() < end, "it did not come about"
        time.sleep(0.05)


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    """A cluster without workers."""
    one = Cluster(tmp_path / "cluster")
    with contextlib.closing(one):
        yield one


@pytest.fixture(scope="module")
def plan() -> Plan:
    """A small study."""
    made = parse_plan(PLAN)
    assert made.total == TOTAL
    return made


@pytest.fixture(scope="module")
def undisturbed(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The bytes of its results, without a cluster."""
    return run_study(plan, tmp_path_factory.mktemp("undisturbed") / "s", n_jobs=1).path.read_bytes()


@pytest.fixture(scope="module")
def other_course(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The course with another number in the model's text."""
    other = tmp_path_factory.mktemp("other")
    shutil.copytree(ROOT / "coilmodel", other / "coilmodel", ignore=shutil.ignore_patterns("__pycache__"))
    readings = other / "coilmodel" / "sparks.py"
    readings.write_text(readings.read_text() + "\nEFFECTIVE *= 0.5\n")
    return other


@pytest.fixture(scope="module")
def old_course(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The course as it was before its workers were asked what they are."""
    old = tmp_path_factory.mktemp("old")
    shutil.copytree(ROOT / "coilmodel", old / "coilmodel", ignore=shutil.ignore_patterns("__pycache__"))
    (old / "coilmodel" / "study" / "cluster.py").unlink()
    return old


def about(name: str, said: list[str]) -> str:
    """Return the one sentence in which a worker is left out."""
    found = [text for text in said if f" ({name}) is left out: " in text]
    assert len(found) == 1, (name, said)
    assert found[0].startswith("Worker tcp://127.0.0.1:")
    return found[0]


def test_the_one_worker_of_a_cluster_is_used_and_no_other_that_is_of_another_version(
        cluster: Cluster, plan: Plan, undisturbed: bytes, other_course: Path, old_course: Path, tmp_path: Path) -> None:
    cluster.worker("other", course=other_course)
    cluster.worker("patched", preload=OTHERWISE)
    cluster.worker("numba", preload=OLD_NUMBA)
    cluster.worker("old", course=old_course)
    cluster.worker("none", preload=NO_COURSE)
    said: list[str] = []

    def tell(text: str) -> None:
        said.append(text)
        if len([one for one in said if " left out: " in one]) == 5:
            cluster.worker("good")

    with cluster.client() as client:
        cluster.arrived(client, 5)
        study = run_study(plan, tmp_path / "s", client=client, tell=tell, patience=LONG)
    assert study.path.read_bytes() == undisturbed
    here = model_digest()
    assert " there, " in about("other", said)
    assert about("other", said).endswith(f" there, {here} here.")
    assert here not in about("other", said).split(" there, ")[0]  # and both versions are named
    assert f"are the same as here (model {here}), and yet it works out otherwise, run " in about("patched", said)
    assert "sparks_per_pulse is " in about("patched", said)
    assert " is left out: numba 0.1.2 there, " in about("numba", said)
    assert f"(No module named 'coilmodel.study.cluster'); model {here} there, {here} here" in about("old", said)
    assert "it has not this course (" in about("none", said)
    assert said[-1].startswith("Made by tcp://127.0.0.1:")
    assert said[-1].endswith(f": {TOTAL} runs.")  # all by the one that is left, which has one thread
    assert len([text for text in said if " left out: " in text]) == 5


def test_late_workers_are_asked_too_and_one_that_turns_is_found_out(
        cluster: Cluster, plan: Plan, undisturbed: bytes, other_course: Path, tmp_path: Path) -> None:
    cluster.worker("first")
    said: list[str] = []
    turned: list[str] = []
    with cluster.client() as client:
        def progress(done: int, before: int, total: int) -> None:
            if done == 48:
                cluster.worker("late", course=other_course)
                cluster.worker("good")
                cluster.arrived(client, 3)
            elif done > 48 and not any("(late)" in text for text in said):
                time.sleep(1.0)  # there is work until it has answered
            elif done > 48 and not turned:  # from now on the first one's model is another, whose files are as they were
                turned.extend(address for address, one in client.scheduler_info(n_workers=-1)["workers"].items()
                              if one["name"] == "first")
                client.run(exec, OTHERWISE, {}, workers=turned)

        study = run_study(plan, tmp_path / "s", progress, size=4, client=client, tell=said.append)
    assert study.path.read_bytes() == undisturbed
    assert model_digest() in about("late", said)
    assert "it sent a result" not in about("late", said)  # it was asked before
    assert "it sent a result of another model, run " in about("first", said)
    assert said[-1].startswith("Made by ")
    assert said[-1].count(" runs") == 2  # the first's until it turned, the good one's


def test_a_worker_killed_for_good_costs_time_alone_and_the_last_one_leaves_what_is_done(
        cluster: Cluster, plan: Plan, undisturbed: bytes, tmp_path: Path) -> None:
    cluster.worker("one")
    cluster.worker("two")
    said: list[str] = []
    with cluster.client() as client:
        cluster.arrived(client, 2)

        def progress(done: int, before: int, total: int) -> None:
            if done in (64, 128):  # three slices a worker are under way then, or wait to be fetched from it
                cluster.kill("one" if done == 64 else "two")

        with pytest.raises(OSError, match=r"^No worker is left at tcp://\S+, and none came in 1 s; what is done is kept"):
            run_study(plan, tmp_path / "s", progress, size=8, client=client, tell=said.append, patience=1.0)
        assert any(text.startswith("No worker that may do it is at ") for text in said)
        cluster.worker("three")
        calls: list[tuple[int, int, int]] = []
        study = run_study(plan, tmp_path / "s", lambda *told: calls.append(told), size=8, client=client, tell=said.append)
        assert calls[0][0] >= 128  # what was done stayed done
        assert study.path.read_bytes() == undisturbed


        with distributed.Client(cluster.address, timeout=20, set_as_default=False) as soon_tired:
            def end(done: int, before: int, total: int) -> None:
                if done == 32:
                    cluster.kill("scheduler")

            with pytest.raises(OSError, match=r"^The scheduler at tcp://\S+ answers no longer \(.*\); what is done is kept"):
                run_study(plan, tmp_path / "t", end, client=soon_tired, tell=said.append)
        assert 2 <= len(list((tmp_path / "t" / "slices").iterdir())) < TOTAL // 16


def test_after_the_last_worker_died_the_study_goes_on_with_one_that_comes_while_it_waits(
        cluster: Cluster, plan: Plan, undisturbed: bytes, tmp_path: Path) -> None:
    cluster.worker("one")
    said: list[str] = []

    def tell(text: str) -> None:
        said.append(text)
        if text.startswith("No worker that may do it is at "):
            cluster.worker("two")

    def progress(done: int, before: int, total: int) -> None:
        if done == 64:
            cluster.kill("one")

    with cluster.client() as client:
        cluster.arrived(client, 1)
        study = run_study(plan, tmp_path / "s", progress, size=8, client=client, tell=tell, patience=LONG)
    assert study.path.read_bytes() == undisturbed
    assert [text.split(" ")[0] for text in said] == ["No", "Made"]
    assert f"; waiting {LONG:.0f} s for one." in said[0]
    first, second = (int(count) for count in re.findall(r"(\d+) runs", said[1]))
    assert first + second == TOTAL
    assert min(first, second) > 0


def test_nobody_waits_for_ever_for_a_worker_that_stands_still(
        cluster: Cluster, plan: Plan, undisturbed: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As a laptop that was shut, or a process that was stopped: its connection is there, and no answer comes."""
    cluster.worker("still")
    said: list[str] = []
    with cluster.client() as client:
        cluster.arrived(client, 1)
        cluster.processes["still"].send_signal(signal.SIGSTOP)
        monkeypatch.setattr(study_cluster, "SILENT", 2.0)
        with pytest.raises(OSError, match=r"^No worker is left at tcp://\S+, and none came in 1 s"):
            run_study(plan, tmp_path / "s", client=client, tell=said.append, patience=1.0)
        assert said[0].endswith("(still) has not answered for 2 s; it may have other work.")
        cluster.worker("good")
        cluster.arrived(client, 2)
        monkeypatch.setattr(study_cluster, "SILENT", LONG)
        study = run_study(plan, tmp_path / "s", client=client, tell=said.append)
        assert study.path.read_bytes() == undisturbed
        assert said[-1].endswith(f": {TOTAL} runs.")

        async def in_vain(**_: object) -> None:
            raise OSError("no way to it")

        monkeypatch.setattr(study_cluster, "SILENT", 2.0)
        client.scheduler.broadcast = in_vain  # of a worker that the scheduler hears and cannot reach
        with pytest.raises(OSError, match=r"^No worker is left at tcp://\S+, and none came in 1 s"):
            run_study(plan, tmp_path / "t", client=client, tell=said.append, patience=1.0)
        del client.scheduler.broadcast

        def shut(done: int, before: int, total: int) -> None:
            if done:
                client.close()

        with pytest.raises(OSError, match=r"^The scheduler at tcp://\S+ answers no longer \(the connection is lost\); what is "):
            run_study(plan, tmp_path / "t", shut, client=client, tell=said.append, patience=LONG)


def test_a_slice_that_takes_longer_than_is_waited_for_is_done_all_the_same(
        cluster: Cluster, plan: Plan, undisturbed: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is handed out again, since its worker may hang; were it given as little time each time, the study would never end."""
    monkeypatch.setattr(study_cluster, "OVERDUE", 0.02)
    monkeypatch.setattr(study_cluster, "LOOK", 0.01)
    cluster.worker("one")
    with cluster.client() as client:
        study = run_study(plan, tmp_path / "s", size=TOTAL, client=client, tell=lambda text: None, patience=LONG)
    assert study.path.read_bytes() == undisturbed


def test_a_scheduler_without_the_course_is_named(plan: Plan, tmp_path: Path) -> None:
    cluster = Cluster(tmp_path / "cluster", preload=NO_COURSE)
    sentence = rf"^The scheduler at tcp://\S+ needs the same course .*{model_digest()} here"
    with contextlib.closing(cluster), cluster.client() as client, pytest.raises(ValueError, match=sentence):
        run_study(plan, tmp_path / "s", client=client)


# ------------------------------------------------------------------------------------------------ the page's commands
def commands() -> list[str]:
    """Return the blocks of commands on the book's page, as they stand there."""
    page = (ROOT / "book" / "pages" / "tolerance_study.md").read_text(encoding="utf-8")
    return re.findall(r"```sh\n(.*?)```", page, re.DOTALL)


def free_port() -> int:
    """Return a port of loopback where nobody listens."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def test_the_commands_of_the_page_do_what_it_says(plan: Plan, undisturbed: bytes, tmp_path: Path) -> None:
    """All of them, in their order; only address, port and number of cores are this machine's."""
    if os.name == "nt" or not shutil.which("openssl"):
        pytest.skip("This test needs openssl and a POSIX shell; on Debian: apt-get install openssl.")
    make, prepare, scheduler, workers, ask, study = commands()
    prepare = re.sub(r"192\.168\.7\.\d", "127.0.0.1", prepare)
    scheduler, workers, ask, study = (text.replace("8786", str(port)).replace("--nworkers 4", "--nworkers 1").replace("8787", "0")
                                      for port in (free_port(),) for text in (scheduler, workers, ask, study))
    (tmp_path / ".venv" / "bin").mkdir(parents=True)
    dask = tmp_path / ".venv" / "bin" / "dask"
    dask.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m dask "$@"\n')
    dask.chmod(0o755)
    (tmp_path / "course.py").write_text(  # the door's own part, which makes the environment, has its tests elsewhere
        f"import os, sys\nassert sys.argv[1] == 'study'\n"
        f"os.execv({sys.executable!r}, [{sys.executable!r}, '-m', 'coilbench.study', *sys.argv[2:]])\n")
    (tmp_path / "plan.toml").write_text(PLAN)
    own = {**os.environ, "PYTHONPATH": str(ROOT), "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"}

    def run(text: str) -> str:
        done = subprocess.run(["sh", "-ec", text], cwd=tmp_path, env=own, text=True, capture_output=True)
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout + done.stderr

    run(make)
    assert (tmp_path / "cluster" / "key.pem").stat().st_mode & 0o077 == 0
    assert model_digest() in run(prepare)
    with contextlib.ExitStack() as stack:
        for name, text in (("scheduler", scheduler), ("workers", workers)):
            log = stack.enter_context((tmp_path / f"{name}.log").open("wb"))
            one = subprocess.Popen(["sh", "-ec", prepare.rpartition("python3")[0] + text], cwd=tmp_path, env=own, stdout=log,
                                   stderr=log, start_new_session=True)
            stack.callback(one.wait)
            stack.callback(os.killpg, one.pid, signal.SIGKILL)  # its group is ours alone
        here = prepare.rpartition("python3")[0]
        wait(lambda: "Registered to:" in (tmp_path / "workers.log").read_text() and "agrees; 1 thread." in run(here + ask))
        started = [one for process in psutil.Process().children() for one in (process, *process.children(recursive=True))]
        open_at = {where.laddr.ip for one in started for where in one.net_connections() if where.status == psutil.CONN_LISTEN}
        assert open_at == {"127.0.0.1"}  # and not at all addresses of the machine
        address = re.search(r"tls://127\.0\.0\.1:\d+", (tmp_path / "scheduler.log").read_text())
        assert address
        plain = subprocess.run([sys.executable, "-m", "coilbench.study", "--versions", "--dask", address[0]], cwd=tmp_path,
                               env={**own, "DASK_DISTRIBUTED__COMM__TIMEOUTS__CONNECT": "5"}, text=True, capture_output=True)
        assert plain.returncode == 1  # who has not the key is not let in
        assert "--dask: no scheduler answers at tls://" in plain.stderr
        assert f"{TOTAL} runs." in run(here + study)
    assert (tmp_path / "plan_study" / "runs.npz").read_bytes() == undisturbed
