"""An unusual bench is simulated once: kept on disk with all it rests on, and never served for anything else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from coilbench import kept_runs, predict, running, stored
from coilbench.asks import Setting
from coilbench.causes import Coil
from coilbench.kept_runs import outcomes_on
from coilbench.running import OUTCOME
from coilbench.sheet import Bench
from coilmodel import Machine

SLOW = Setting(Bench(333.0, 1.0))
COILS = [Coil(Machine(), 1.0, gap, 1.0) for gap in (0.9, 1.0, 1.1)]


class Simulator:
    """Counts how often it is asked, and answers by what it is asked."""

    def __init__(self) -> None:
        self.times = 0

    def __call__(self, coils: Sequence[Coil], setting: Setting) -> list[list[float]]:
        self.times += 1
        return [[coil.gap, coil.drive, setting.bench.rpm, setting.bench.volts, setting.gap, float("nan")] for coil in coils]


@pytest.fixture
def simulate() -> Simulator:
    return Simulator()


def test_a_bench_is_simulated_once(tmp_path: Path, simulate: Simulator) -> None:
    first = outcomes_on(SLOW, COILS, simulate, tmp_path)
    again = outcomes_on(SLOW, list(COILS), simulate, tmp_path)
    assert simulate.times == 1
    assert repr(again) == repr(first) == repr(Simulator()(COILS, SLOW))


@pytest.mark.parametrize("setting", [Setting(Bench(333.0, 1.1)), Setting(Bench(334.0, 1.0)), Setting(Bench(volts=7.0)),
                                     replace(SLOW, gap=SLOW.gap + 1.0),
                                     replace(SLOW, bench=replace(SLOW.bench, aid="condenser"))])
def test_another_bench_is_simulated_itself(tmp_path: Path, simulate: Simulator, setting: Setting) -> None:
    outcomes_on(SLOW, COILS, simulate, tmp_path)
    assert repr(outcomes_on(setting, COILS, simulate, tmp_path)) == repr(Simulator()(COILS, setting))
    assert simulate.times == 2


@pytest.mark.parametrize("coils", [COILS[:2], COILS[::-1], [*COILS[:2], replace(COILS[2], drive=1.0 + 1e-12)],
                                   [*COILS[:2], replace(COILS[2], machine=Machine().scaled(cushion_preload=1.0 + 1e-12))]])
def test_other_coils_are_simulated_themselves(tmp_path: Path, simulate: Simulator, coils: list[Coil]) -> None:
    outcomes_on(SLOW, COILS, simulate, tmp_path)
    assert repr(outcomes_on(SLOW, coils, simulate, tmp_path)) == repr(Simulator()(coils, SLOW))
    assert simulate.times == 2


@pytest.mark.parametrize("what", ["model", "numba", "runs"])
def test_what_another_model_said_is_not_used(tmp_path: Path, simulate: Simulator, what: str,
                                             monkeypatch: pytest.MonkeyPatch) -> None:
    outcomes_on(SLOW, COILS, simulate, tmp_path)
    if what == "runs":  # the text of running.py
        changed = tmp_path / "running.py"
        changed.write_text(Path(running.__file__).read_text(encoding="utf-8") + "# changed\n", encoding="utf-8")
        monkeypatch.setattr(running, "__file__", str(changed))
    else:
        now = {**kept_runs.maker(), what: "another"}
        monkeypatch.setattr(kept_runs, "maker", lambda: now)
    outcomes_on(SLOW, COILS, simulate, tmp_path)
    assert simulate.times == 2


@pytest.mark.parametrize("harm", [b"", b"not a pickle", None])
def test_a_spoilt_file_costs_a_simulation_and_nothing_else(tmp_path: Path, simulate: Simulator, harm: bytes | None) -> None:
    outcomes_on(SLOW, COILS, simulate, tmp_path)
    files = list(tmp_path.rglob("output.pkl"))
    assert len(files) == 1
    files[0].write_bytes(files[0].read_bytes()[:40] if harm is None else harm)
    assert repr(outcomes_on(SLOW, COILS, simulate, tmp_path)) == repr(Simulator()(COILS, SLOW))
    assert simulate.times == 2
    outcomes_on(SLOW, COILS, simulate, tmp_path)
    assert simulate.times == 2  # and it is whole again


def test_where_nothing_can_be_kept_it_is_simulated(tmp_path: Path, simulate: Simulator) -> None:
    (tmp_path / "file").write_text("in the way")
    for _ in range(2):
        assert repr(outcomes_on(SLOW, COILS, simulate, tmp_path / "file" / "kept")) == repr(Simulator()(COILS, SLOW))
    assert simulate.times == 2


def test_what_is_kept_has_a_limit(tmp_path: Path, simulate: Simulator, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept_runs, "MOST", 1000)
    for rpm in range(300, 310):
        outcomes_on(Setting(Bench(float(rpm), 1.0)), COILS, simulate, tmp_path)
    assert sum(file.stat().st_size for file in tmp_path.rglob("output.pkl")) <= 1000


def test_the_judge_learns_from_what_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second start of a command: the stored coils without the bench, and no simulation."""
    asked: list[int] = []
    real = predict.outcomes

    def outcomes(tasks: Sequence[tuple[Coil, Setting]], *rest: object) -> object:
        asked.append(len(tasks))
        return real(tasks[:3], *rest)[[0, 1, 2] * (len(tasks) // 3 + 1)][:len(tasks)]  # type: ignore[arg-type]

    monkeypatch.setattr(predict, "outcomes", outcomes)
    found = []
    for _ in range(2):
        store = replace_runs()
        predict.learn([SLOW, SLOW], None, store, tmp_path)
        found.append(store.runs[SLOW])
    assert asked == [len(stored.imagined().coils)]
    assert repr(found[0]) == repr(found[1])
    assert len(found[0][0]) == len(OUTCOME)


def replace_runs() -> stored.Imagined:
    """Return the stored coils as a new start has them."""
    own = stored.imagined()
    return stored.Imagined(own.coils, own.of, dict(own.runs))
