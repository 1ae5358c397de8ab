"""A study ends with the same bytes whoever works on it, in whatever slices, however often it is stopped or spoilt on the way."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import joblib
import psutil  # comes with distributed
import pytest

from coilmodel.study import Plan, parse_plan, run_study
from coilmodel.study.store import Folder, write_whole
from coilmodel.study.work import work_through

ROOT = Path(__file__).resolve().parents[2]
PLAN = """
[study]
runs = 64
pulses = {pulses}
warm_up = 1
[vary]
"cushion.preload" = {{like = "lognormal", percent = 25}}
"vibrator.stop" = {{like = "normal", middle = 6e-4, deviation = 5e-5}}
"drive.rpm" = {{like = "uniform", low = 400, high = 600}}
"""
TOTAL = 320


@pytest.fixture(scope="module")
def plan() -> Plan:
    """A small study in which the model refuses some runs."""
    made = parse_plan(PLAN.format(pulses=4))
    assert made.total == TOTAL
    return made


@pytest.fixture(scope="module")
def undisturbed(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The bytes of its results, worked through in one go by one process."""
    return run_study(plan, tmp_path_factory.mktemp("undisturbed") / "s", n_jobs=1).path.read_bytes()


@pytest.mark.parametrize(("workers", "size"), [(1, 7), (1, 320), (2, 33)])
def test_workers_and_slices_change_nothing(plan: Plan, undisturbed: bytes, tmp_path: Path, workers: int, size: int) -> None:
    seen: list[tuple[int, int, int]] = []
    study = run_study(plan, tmp_path / "s", lambda *told: seen.append(told), workers, size)
    assert study.path.read_bytes() == undisturbed
    assert seen[0] == (0, 0, TOTAL)
    assert seen[-1] == (TOTAL, 0, TOTAL)
    assert sorted(path.name for path in (tmp_path / "s").iterdir()) == ["runs.npz", "study.json"]


def test_a_study_goes_on_where_it_stopped_whatever_was_spoilt(plan: Plan, undisturbed: bytes, tmp_path: Path) -> None:
    path = tmp_path / "s"
    folder = Folder(path, plan)
    done = []
    for part, table, refused in work_through(plan, folder.missing(32)[:6], 1):
        folder.keep(part, table, refused)
        done.append(folder.slices / part.name)
    done[0].write_bytes(done[0].read_bytes()[:1000])  # cut short, as by a full disk
    spoilt = bytearray(done[1].read_bytes())
    with zipfile.ZipFile(done[1]) as archive:
        column = archive.infolist()[1]
    start = column.header_offset + 30  # of the name, after the header's fixed part; its extra field's length ends that part
    spoilt[start + len(column.filename) + int.from_bytes(spoilt[start - 2:start], "little") + 8] ^= 1  # one bit of a column
    done[1].write_bytes(spoilt)
    done[2].rename(done[2].with_name("000000100-000000132.npz"))  # not what its name says, and across another
    (folder.slices / "000000288-000000320.npz.part").write_bytes(b"half")
    (path / "runs.part").write_bytes(b"half")
    (path / "joining").mkdir()
    seen: list[tuple[int, int, int]] = []
    study = run_study(plan, path, lambda *told: seen.append(told), 1, 50)  # and with slices of another size
    assert seen[0] == (96, 96, TOTAL)
    assert study.path.read_bytes() == undisturbed
    assert sorted(item.name for item in path.iterdir()) == ["runs.npz", "study.json"]

    calls: list[tuple[int, int, int]] = []
    again = run_study(plan, path, lambda *told: calls.append(told), 1)  # done already: nothing is run
    assert not calls
    again.path.write_bytes(undisturbed[:-100])  # spoilt afterwards: run anew
    assert run_study(plan, path, n_jobs=1).path.read_bytes() == undisturbed
    (path / "study.json").write_bytes(b"{")
    assert run_study(plan, path, n_jobs=1).path.read_bytes() == undisturbed


def test_a_folder_of_another_study_is_left_alone(plan: Plan, tmp_path: Path) -> None:
    Folder(tmp_path / "s", plan)
    other = parse_plan(PLAN.format(pulses=5))
    with pytest.raises(ValueError, match="holds the study of another plan; give another --out"):
        run_study(other, tmp_path / "s")
    label = tmp_path / "s" / "study.json"
    label.write_text(label.read_text().replace('"schema": 1', '"schema": 7'))
    with pytest.raises(ValueError, match=r"another version of the course \(layout 7, here 1\)"):
        run_study(plan, tmp_path / "s")
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("dear")
    with pytest.raises(ValueError, match="holds something that is no study"):
        run_study(plan, tmp_path / "mine")
    with pytest.raises(ValueError, match="is a file, and a study needs a folder"):
        run_study(plan, tmp_path / "mine" / "letter.txt")


def test_a_file_is_there_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    write_whole(tmp_path / "a", b"old")
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        write_whole(tmp_path / "a", b"new")
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [("a", b"old")]


# --------------------------------------------------------------------------------------------------------- interrupted
def started(plan_file: Path, *words: str) -> subprocess.Popen[str]:
    """Start the command of a study as a person would."""
    return subprocess.Popen(
        [sys.executable, "-m", "coilbench.study", str(plan_file), "--workers", "2", *words], cwd=ROOT, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler))  # CI may start us with it ignored


def wait_for_slices(folder: Path, count: int, process: subprocess.Popen[str]) -> None:
    """Wait until so many slices lie in the folder, or the process has ended."""
    until = time.monotonic() + 60.0
    while len(list((folder / "slices").glob("*.npz"))) < count and process.poll() is None and time.monotonic() < until:
        time.sleep(0.005)


def test_killed_then_stopped_then_finished_it_ends_with_the_same_bytes(tmp_path: Path) -> None:
    text = PLAN.format(pulses=80)
    plan_file, folder = tmp_path / "p.toml", tmp_path / "p_study"
    plan_file.write_text(text)

    killed = started(plan_file)
    wait_for_slices(folder, 3, killed)
    os.killpg(killed.pid, signal.SIGKILL)  # the whole group, as when the power goes; it is ours alone
    killed.communicate()
    assert killed.returncode == -signal.SIGKILL

    stopped = started(plan_file)
    wait_for_slices(folder, 9, stopped)
    os.killpg(stopped.pid, signal.SIGINT)  # Ctrl-C goes to every process at the terminal
    _, said = stopped.communicate(timeout=60)
    assert stopped.returncode == 130
    assert "Stopped. What is done is kept; the same command goes on from here" in said
    assert "Traceback" not in said.split("Stopped.")[0]
    there = len(list((folder / "slices").glob("*.npz")))
    assert 3 <= there < 20

    finished = started(plan_file, "--csv", str(tmp_path / "all.csv"))
    out, said = finished.communicate(timeout=120)
    assert finished.returncode == 0, said
    assert "misfire" in out
    alone = run_study(parse_plan(text), tmp_path / "alone", n_jobs=1)
    assert (folder / "runs.npz").read_bytes() == alone.path.read_bytes()
    assert (tmp_path / "all.csv").read_text().splitlines()[0].startswith("run,coil,role,cushion.preload (N)")
    assert len((tmp_path / "all.csv").read_text().splitlines()) == TOTAL + 1
    assert (folder / "report.html").read_text().count("data:image/png") == 3


def kill_busy(client: Any, victim: str, pid: int, killed: list[int]) -> None:
    """Kill a worker of a cluster at a moment when it has work in hand."""
    until = time.monotonic() + 30.0
    while time.monotonic() < until:
        if client.processing().get(victim):
            os.kill(pid, signal.SIGKILL)
            killed.append(pid)
            return
        time.sleep(0.005)


def kill_once(find: Callable[[], list[int]]) -> Callable[[int, int, int], None]:
    """Return a progress that kills one worker as soon as some results are there."""
    killed: list[int] = []

    def progress(done: int, before: int, total: int) -> None:
        if done > before and not killed:
            killed.append(find()[0])
            os.kill(killed[0], signal.SIGKILL)

    progress.killed = killed  # type: ignore[attr-defined]
    return progress


def test_a_worker_that_dies_costs_nothing_but_time(plan: Plan, undisturbed: bytes, tmp_path: Path) -> None:
    def workers() -> list[int]:
        children = psutil.Process().children(recursive=True)
        return [child.pid for child in children if "popen_loky" in " ".join(child.cmdline())]

    progress = kill_once(workers)
    with joblib.parallel_config(backend="loky", n_jobs=2):
        study = run_study(plan, tmp_path / "s", progress, size=8)
    assert progress.killed  # type: ignore[attr-defined]
    assert study.path.read_bytes() == undisturbed


def test_unchanged_on_a_dask_cluster_with_a_worker_killed_on_the_way(plan: Plan, undisturbed: bytes, tmp_path: Path) -> None:
    dask = pytest.importorskip("dask")
    distributed = pytest.importorskip("dask.distributed")
    quiet = {"distributed.worker.profile.enabled": False, "logging.distributed": "critical", "temporary-directory": str(tmp_path)}
    with dask.config.set(quiet), contextlib.ExitStack() as stack:
        cluster = stack.enter_context(distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None))
        client = stack.enter_context(distributed.Client(cluster))
        pids = client.run(os.getpid)
        assert len(set(pids.values()) | {os.getpid()}) == 3  # two processes, neither of them this one
        (victim, pid), killed = next(iter(pids.items())), []  # type: tuple[str, int], list[int]
        killer = threading.Thread(target=kill_busy, args=(client, victim, pid, killed))
        killer.start()
        with joblib.parallel_config(backend="dask"):
            study = run_study(plan, tmp_path / "s", size=16)
        killer.join()
        assert killed == [pid]
        assert pid not in client.run(os.getpid).values()
    assert study.path.read_bytes() == undisturbed
