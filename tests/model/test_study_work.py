"""A study ends with the same bytes whoever works on it, in whatever slices, however often it is stopped or spoilt on the way."""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import re
import select
import signal
import struct
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import joblib
import numpy as np
import psutil  # comes with distributed
import pytest

from coilmodel.study import Plan, origin, parse_plan, run_study
from coilmodel.study.slices import Slice
from coilmodel.study.store import Folder, write_whole
from coilmodel.study.work import _taken_up, work_through

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
    for made in work_through(plan, folder.missing(32)[:6], 1):
        folder.keep(made.part, made.table, made.refused)
        done.append(folder.slices / made.part.name)
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
    altered(done[3], "opening_current")  # and sealed anew by the archive
    kept = {file.name: file.read_bytes() for file in done[:4] if file.exists()}
    kept["000000100-000000132.npz"] = (folder.slices / "000000100-000000132.npz").read_bytes()
    seen: list[tuple[int, int, int]] = []
    said: list[str] = []
    study = run_study(plan, path, lambda *told: seen.append(told), 1, 50, tell=said.append)  # and with slices of another size
    assert seen[0] == (64, 64, TOTAL)
    assert study.path.read_bytes() == undisturbed
    assert sorted(item.name for item in path.iterdir()) == ["runs.npz", "spoilt", "study.json"]
    assert {file.name: file.read_bytes() for file in (path / "spoilt").iterdir()} == kept  # nothing was thrown away
    assert [text.split(": ")[0].rpartition("/")[2] for text in said] == sorted(kept)  # and each is named
    assert "cannot be read (File is not a zip file). It is kept as " in said[0]
    assert all(text.endswith(" Its runs are made again.") for text in said)

    calls: list[tuple[int, int, int]] = []
    run_study(plan, path, lambda *told: calls.append(told), 1, tell=said.append)  # done already: nothing is run
    assert not calls
    assert len(said) == 4


@pytest.mark.parametrize(("spoil", "complaint"), [
    (lambda file: file.write_bytes(file.read_bytes()[:-100]), "cannot be read"),
    (lambda file: file.write_bytes(b""), "cannot be read"),
    (lambda file: altered(file, "pulses_misfired"), "its numbers are not those that were written into it"),
    (lambda file: altered(file, "pulses_misfired", about=lambda told: told.pop("content")), r"cannot be read \('content'\)"),
    (lambda file: altered(file, "pulses_misfired", about=lambda told: told["identity"].update(model="0" * 32)),
     "of another plan, or of another version of the model"),
    (lambda file: altered(file, "status", drop=True), "has other columns than a study of this plan"),
    (lambda file: altered(file, "spark_energy", seal=True), "its numbers are not this model's"),
])
def test_a_spoilt_result_is_kept_aside_named_and_made_again(
        plan: Plan, undisturbed: bytes, tmp_path: Path, spoil: Callable[[Path], None], complaint: str) -> None:
    path = tmp_path / "s"
    Folder(path, plan)
    result = path / "runs.npz"
    for count in (1, 2):  # the second does not push the first out
        result.write_bytes(undisturbed)
        spoil(result)
        spoilt = result.read_bytes()
        said: list[str] = []
        assert run_study(plan, path, n_jobs=1, tell=said.append).path.read_bytes() == undisturbed
        assert len(said) == 1
        assert re.search(complaint, said[0])
        name = "runs.npz" if count == 1 else "runs-2.npz"
        assert said[0].startswith(f"{result}: ")
        assert f"It is kept as {path / 'spoilt' / name}." in said[0]
        assert (path / "spoilt" / name).read_bytes() == spoilt


@pytest.mark.parametrize("spoilt", [b"{", b"[1, 2]", b"\xff"])
def test_a_spoilt_label_is_kept_aside_and_its_study_goes_on(
        plan: Plan, undisturbed: bytes, tmp_path: Path, spoilt: bytes) -> None:
    Folder(tmp_path / "s", plan)
    (tmp_path / "s" / "runs.npz").write_bytes(undisturbed)
    (tmp_path / "s" / "study.json").write_bytes(spoilt)
    said: list[str] = []
    calls: list[tuple[int, int, int]] = []
    assert run_study(plan, tmp_path / "s", lambda *told: calls.append(told), 1, tell=said.append).path.read_bytes() == undisturbed
    assert not calls
    assert "study.json: cannot be read. It is kept as " in said[0]
    assert (tmp_path / "s" / "spoilt" / "study.json").read_bytes() == spoilt


def altered(file: Path, column: str, drop: bool = False, seal: bool = False,
            about: Callable[[dict[str, Any]], object] = lambda told: None) -> None:
    """Write a result anew with other numbers in a column: an archive that is whole, as from whoever edits it with numpy.

    drop: leave the column out; about: alters `about.json`; seal: make the digest of the numbers fit, as the course would.
    """
    with zipfile.ZipFile(file) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    told = json.loads(members["about.json"])
    numbers = np.load(io.BytesIO(members[f"{column}.npy"]))
    buffer = io.BytesIO()
    np.save(buffer, numbers + 1)
    members[f"{column}.npy"] = buffer.getvalue()
    about(told)
    if seal:
        seen = hashlib.sha256(json.dumps({**told, "content": ""}, sort_keys=True).encode())
        for name, content in members.items():
            seen.update(content if name != "about.json" else b"")
        told["content"] = seen.hexdigest()
    members["about.json"] = json.dumps(told).encode()
    with zipfile.ZipFile(file, "w") as archive:
        for name, content in members.items():
            if not (drop and name == f"{column}.npy"):
                archive.writestr(name, content)


def test_a_folder_of_another_study_is_left_alone(plan: Plan, tmp_path: Path) -> None:
    Folder(tmp_path / "s", plan)
    other = parse_plan(PLAN.format(pulses=5))
    with pytest.raises(ValueError, match="holds the study of another plan; give another --out"):
        run_study(other, tmp_path / "s")
    label = tmp_path / "s" / "study.json"
    label.write_text(label.read_text().replace('"schema": 2', '"schema": 7'))
    with pytest.raises(ValueError, match=r"another version of the course \(layout 7, here 2\)"):
        run_study(plan, tmp_path / "s")
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("dear")
    with pytest.raises(ValueError, match="holds something that is no study"):
        run_study(plan, tmp_path / "mine")
    with pytest.raises(ValueError, match="is a file, and a study needs a folder"):
        run_study(plan, tmp_path / "mine" / "letter.txt")


def test_two_processes_do_not_work_on_one_study(plan: Plan, undisturbed: bytes, tmp_path: Path) -> None:
    pytest.importorskip("fcntl")
    first = Folder(tmp_path / "s", plan)
    draft = first.slices / "000000000-000000016.npz.part"
    with first.alone():
        draft.write_bytes(b"half")
        with pytest.raises(ValueError, match="another process is working on this study; wait for it, or stop it"):
            run_study(plan, tmp_path / "s", n_jobs=1)
        assert draft.exists()  # the first may still finish it
    assert run_study(plan, tmp_path / "s", n_jobs=1).path.read_bytes() == undisturbed
    assert not draft.exists()


class StandInForWindows:
    """What the standard library's msvcrt promises of locks, by its documentation: mandatory, and each of one open file alone."""

    LK_UNLCK, LK_NBLCK = 0, 2

    def __init__(self) -> None:
        self.held: dict[tuple[int, int, int], int] = {}

    def locking(self, number: int, mode: int, count: int) -> None:
        """Lock or free `count` bytes from where the open file `number` stands."""
        assert count == 1
        stat, at = os.fstat(number), os.lseek(number, 0, os.SEEK_CUR)
        assert at > stat.st_size, "nobody could read what is locked there"
        place = (stat.st_dev, stat.st_ino, at)
        if mode == self.LK_UNLCK:
            assert self.held.pop(place) == number
        elif place in self.held:
            raise PermissionError(13, "Permission denied")
        else:
            self.held[place] = number


def test_on_windows_too_two_processes_do_not_work_on_one_study(plan: Plan, undisturbed: bytes, tmp_path: Path,
                                                                monkeypatch: pytest.MonkeyPatch) -> None:
    """By a stand-in: no Windows was at hand, so that the real module does as it says has not been seen."""
    windows = StandInForWindows()
    monkeypatch.setitem(sys.modules, "fcntl", None)
    monkeypatch.setitem(sys.modules, "msvcrt", windows)
    first = Folder(tmp_path / "s", plan)
    for _ in range(2):  # let go of, it can be taken again
        with first.alone():
            assert windows.held
            with pytest.raises(ValueError, match="another process is working on this study; wait for it, or stop it"):
                run_study(plan, tmp_path / "s", n_jobs=1)
        assert not windows.held
    with pytest.raises(KeyError), first.alone():
        raise KeyError
    assert not windows.held
    assert run_study(plan, tmp_path / "s", n_jobs=1).path.read_bytes() == undisturbed

    def without(number: int, mode: int, count: int) -> None:
        raise OSError(22, "Invalid argument")

    monkeypatch.setattr(windows, "locking", without)  # a disk that knows no locks does not end a study
    assert run_study(plan, tmp_path / "s", n_jobs=1).path.read_bytes() == undisturbed


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


def die_half_way(mark: str) -> None:
    """Let this worker die in the midst of the first message that a pipe does not take as a whole; `mark` is made then."""
    whole = Connection._send_bytes  # type: ignore[attr-defined]

    def half(self: Any, message: Any) -> None:
        if len(message) + 4 <= select.PIPE_BUF or Path(mark).exists():
            whole(self, message)
            return
        Path(mark).touch()
        os.write(self.fileno(), struct.pack("!i", len(message)) + bytes(message[:len(message) // 2]))
        os.kill(os.getpid(), signal.SIGKILL)

    Connection._send_bytes = half  # type: ignore[attr-defined]


def study_whose_workers_die_half_way(home: Path) -> None:
    """Run the small study with two workers and two slices whose results are longer than a pipe takes at once."""
    with joblib.parallel_config(backend="loky", n_jobs=2, initializer=die_half_way, initargs=(str(home / "died"),)):
        run_study(parse_plan(PLAN.format(pulses=4)), home / "s", size=TOTAL // 2)


@pytest.mark.skipif(os.name == "nt", reason="On Windows a pipe takes messages as a whole.")
def test_no_worker_can_die_half_way_through_a_result(undisturbed: bytes, tmp_path: Path) -> None:
    """The other half would be waited for for ever. So nothing goes through a pipe that could be parted.

    In a process of its own: what waits like that for joblib hears no signal, so no timeout of pytest's ends it.
    """
    code = f"import pathlib, test_study_work; test_study_work.study_whose_workers_die_half_way(pathlib.Path({str(tmp_path)!r}))"
    process = subprocess.Popen([sys.executable, "-c", code], cwd=Path(__file__).parent, start_new_session=True,
                               env={**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT), str(Path(__file__).parent)))})
    try:
        status = process.wait(timeout=240.0)
    except subprocess.TimeoutExpired:
        pytest.fail("it waits for ever")
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)  # its group is ours alone
        process.wait()
    assert status == 0
    assert not (tmp_path / "died").exists()
    assert (tmp_path / "s" / "runs.npz").read_bytes() == undisturbed


def test_results_that_were_written_elsewhere_get_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="whose workers are elsewhere; give a cluster's client"):
        _taken_up(tmp_path / "000000000-000000016.npz")


def test_a_process_started_from_changed_files_makes_no_results(plan: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(origin._MAKER, "model", "0" * 32)  # as of a process that started before the files were changed
    with pytest.raises(ValueError, match=r"files were changed while the study ran.*model [0-9a-f]{32} there, 0{32} here"):
        list(work_through(plan, [Slice(0, 8), Slice(8, 16)], 2))


def test_the_digest_covers_every_module_that_a_run_needs() -> None:
    loaded = subprocess.run(
        [sys.executable, "-c", "import sys, coilmodel.study.slices; print(*sys.modules)"],
        cwd=ROOT, text=True, capture_output=True, check=True).stdout.split()
    ours = {name.removeprefix("coilmodel.").replace(".", "/") for name in loaded if name.startswith("coilmodel.")}
    needed = ours - {"study", "durable"}  # the one holds names only, the other writes and works nothing out
    assert needed - {f"study/{name}" for name in ("findings", "store", "work")} <= set(origin.TEXT)
