"""A study on a Dask cluster (`distributed`), whose workers may be anybody's: of another version, late, dying.

No worker makes results before it has shown that they are the ones that this process would make. Dask's own inquiry tells its
Python and packages before anything of ours is sent to it; then a task says what its model is, and another runs some coils of
the plan, which must come out as they do here, to the last bit. Whoever comes later is asked in the same way. Every slice is
bound to the workers that have passed, its result says who made it, and one run of it, drawn by lot, is made again here. What does
not agree is left out in a sentence; the cluster itself is left as it is, since others may be using it.

A slice whose worker dies is handed to another by Dask; this process keeps only so many under way that nobody waits.
"""

from __future__ import annotations

import asyncio
import concurrent.futures
import contextlib
import queue
import time
from collections import Counter, deque
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from coilmodel.study.origin import PACKAGES, differences, maker, model_digest, text_digest
from coilmodel.study.plan import Plan
from coilmodel.study.slices import Slice, Worked, otherwise, worked
from coilmodel.study.store import Tell

AHEAD = 3  # slices under way for each thread of the cluster
LOOK = 1.0  # s between two looks at who is there
PROBES = 5  # runs of the plan that a worker makes before it is trusted
REPLY = 20.0  # s that a finished result may take on its way
SILENT = 120.0  # s without an answer after which a worker is said to be busy, and asked again, and a scheduler is given up
OVERDUE = 900.0  # s after which a slice is taken for lost, and handed out again; twice as long each time that it was
ERRORS = 3  # times that a slice may fail before the study ends
SPOKEN = ("dask", "distributed")  # packages whose versions must agree for the cluster to understand itself
KEPT = "what is done is kept, and the same command goes on from there"


QUESTION = '''
try:
    from coilmodel.study.cluster import who
    answer = who()
except Exception as error:
    answer = {"error": str(error)}
    try:
        from coilmodel.study.store import model_digest
        answer["model"] = model_digest()
    except Exception:
        pass
'''
"""What a process is asked first, as text: it may have no course, or one that knows none of our functions. (A task that its worker
cannot read is worse than an error: Dask's client may then wait for it for ever.)"""
ASK = f"(lambda names: (exec({QUESTION!r}, names), names['answer'])[1])(dict())"
_CLUSTER = text_digest(__file__)


# ------------------------------------------------------------------------------------------------- what workers run
def who() -> dict[str, str]:
    """Return who makes the results on a worker, and a digest of this module, which it must have to be talked to."""
    return {**maker(), "cluster": _CLUSTER}


def probes(plan: Plan) -> list[Slice]:
    """Return the runs of a plan that a worker is tried with: spread evenly over it."""
    count = min(PROBES, plan.total)
    return [Slice(run, run + 1) for run in (plan.total * place // count for place in range(count))]


def tried(plan: Plan) -> list[Worked] | str:
    """Return what a worker makes of the probes, or why it cannot."""
    try:
        return [worked(plan, part) for part in probes(plan)]
    except Exception as error:
        return f"{type(error).__name__}: {error}"


def made(plan: Plan, part: Slice) -> tuple[str, Worked | str]:
    """Return the address of the worker that this runs on, and the results of a slice, or why there are none."""
    from distributed import get_worker

    try:
        return get_worker().address, worked(plan, part)
    except Exception as error:
        return get_worker().address, f"{type(error).__name__}: {error}"


# ---------------------------------------------------------------------------------------------------- who may do it
class Crew:
    """The workers of a cluster that may make a plan's results, and the questions that others have not answered yet."""

    def __init__(self, client: Any, plan: Plan, tell: Tell, events: queue.SimpleQueue[Any]) -> None:
        """Look after the cluster of a `distributed.Client`; `tell` is told who is left out, `events` gets every answer."""
        self.client, self.plan, self.tell, self.events = client, plan, tell, events
        self.address: str = client.scheduler.address
        self.model = [worked(plan, part) for part in probes(plan)]
        self.threads: dict[str, int] = {}  # of those that may
        self.left_out: set[str] = set()
        self.asked: dict[Any, str] = {}  # a question under way to its worker
        self.since: dict[str, float] = {}  # when a worker was asked what it has not answered
        self.in_vain: dict[str, float] = {}  # when a worker was first asked, of those of whom no question was answered yet
        self.busy: set[str] = set()  # who has not answered for long, and was named
        self.looked = -LOOK
        from distributed.versions import get_versions

        # Not client.get_versions: it waits for every worker, and for ever for one that has stopped without ending.
        self.here = _versions(get_versions(packages=list(PACKAGES)))
        there = client.sync(client.scheduler.versions, packages=list(PACKAGES), callback_timeout=SILENT)
        wrong = (differences(_spoken(_versions(there)), _spoken(self.here))
                 or _other(client.run_on_scheduler(eval, ASK)))  # it reads the work before it hands it on
        if wrong:
            raise ValueError(f"The scheduler at {self.address} needs the same course as its workers: {wrong}.")

    def look(self, at_once: bool = False) -> None:
        """Drop the workers that are gone, and ask those that have come.

        at_once: also if the last look was less than LOOK seconds ago.
        """
        if self.client.status in ("closing", "closed"):
            raise OSError("the connection is lost")
        if not at_once and time.monotonic() - self.looked < LOOK:
            return
        there = self.client.sync(self.client.scheduler.ncores, callback_timeout=SILENT)
        self.looked = time.monotonic()
        self.left_out &= there.keys()
        self.threads = {address: threads for address, threads in there.items() if address in self.threads}
        self.busy &= there.keys()
        self.in_vain = {address: began for address, began in self.in_vain.items() if address in there}
        for question, address in list(self.asked.items()):
            silent = self.looked - self.since[address] > SILENT
            if silent and address in there:
                self._is_busy(address)
            if silent or address not in there:
                del self.asked[question]
                if isinstance(question, concurrent.futures.Future):
                    question.cancel()
                else:
                    question.release()
        for address in sorted(there.keys() - self.threads.keys() - self.left_out - set(self.asked.values())):
            self._ask_versions(address)

    def _ask_versions(self, address: str) -> None:
        """Have Dask itself ask a worker for its Python and packages: nothing of ours is sent to it yet."""
        asking = self.client.scheduler.broadcast(msg={"op": "versions", "packages": list(PACKAGES)}, workers=[address])
        question = asyncio.run_coroutine_threadsafe(asking, self.client.loop.asyncio_loop)
        self.asked[question], self.since[address] = address, time.monotonic()
        self.in_vain.setdefault(address, time.monotonic())
        question.add_done_callback(self.events.put)

    def _is_busy(self, address: str) -> None:
        """Wait for this worker no longer, and say so; it is still asked."""
        if address not in self.busy:
            self.busy.add(address)
            self.tell(f"Worker {self.called(address)} has not answered for {SILENT:.0f} s; it may have other work.")

    def _unanswered(self, address: str) -> None:
        """Note that a question failed on its way: it is asked again, but nobody waits for ever for one whom none reaches."""
        if address in self.in_vain and time.monotonic() - self.in_vain[address] > SILENT:
            self._is_busy(address)

    def _ask(self, address: str, question: Any, *more: Any) -> None:
        future = self.client.submit(question, *more, workers=[address], allow_other_workers=False, pure=False)
        self.asked[future], self.since[address] = address, time.monotonic()
        future.add_done_callback(self.events.put)

    def answered(self, future: Any) -> None:
        """Take a worker's answer: ask it to try the probes, let it in, or leave it out."""
        address = self.asked.pop(future)
        if isinstance(future, concurrent.futures.Future):
            if future.cancelled() or future.exception() is not None:
                self._unanswered(address)
            elif wrong := differences(_versions(future.result()[address]), self.here):
                self.leave_out(address, wrong)
            else:
                self._ask(address, eval, ASK)
            return
        if future.status in ("cancelled", "lost"):
            self._unanswered(address)
            return
        if future.status == "error":
            self.leave_out(address, f"it cannot be asked ({_short(future.exception(timeout=REPLY))})")
            return
        try:
            answer = future.result(timeout=REPLY)
        except (TimeoutError, OSError):
            self._unanswered(address)
            return
        if isinstance(answer, dict):
            wrong = _other(answer)
            if not wrong:
                self._ask(address, tried, self.plan)
                return
        elif isinstance(answer, str):
            wrong = f"it cannot run the model ({answer})"
        else:
            found = [otherwise(there.table, 0, here) for there, here in zip(answer, self.model, strict=True)]
            wrong = next((f"its model and versions say that they are the same as here (model {model_digest()}), and yet it works "
                          f"out otherwise, {text}" for text in found if text), "")
        if wrong:
            self.leave_out(address, wrong)
        else:
            self.threads[address] = 1
            self.in_vain.pop(address, None)
            self.look(at_once=True)

    def leave_out(self, address: str, why: str) -> None:
        """Give nothing to the worker at an `address` any more, and say so; `why` ends the sentence."""
        self.threads.pop(address, None)
        if address not in self.left_out:
            self.left_out.add(address)
            self.tell(f"Worker {self.called(address)} is left out: {why}.")

    def called(self, address: str) -> str:
        """Return a worker's address, with its name where it was given one."""
        name = self.client.scheduler_info(n_workers=-1)["workers"].get(address, {}).get("name", address)
        return address if name == address else f"{address} ({name})"

    def again(self) -> None:
        """Ask everybody anew: a slice failed in a way that a worker which had passed should not show."""
        self.threads.clear()
        self.look(at_once=True)


def _versions(told: Mapping[str, Any]) -> dict[str, str]:
    """Return the versions that matter, of what Dask says of a process: Python's two numbers, each package's."""
    packages = told["packages"]
    return {"python": ".".join(str(packages["python"]).split(".")[:2]),
            **{name: str(packages.get(name) or "none") for name in (*SPOKEN, *PACKAGES)}}


def _other(answer: Mapping[str, str]) -> str:
    """Return what differs here from a process that gave this answer to ASK, in words; "" where nothing does."""
    if "error" not in answer:
        return differences(dict(answer), who())
    if "model" not in answer:
        return f"it has not this course ({answer['error']}); model {model_digest()} here"
    return (f"its course is another version, which cannot be asked ({answer['error']}); model {answer['model']} there, "
            f"{model_digest()} here")


def _spoken(versions: Mapping[str, str]) -> dict[str, str]:
    return {name: versions[name] for name in ("python", *SPOKEN)}


def _short(error: BaseException | None) -> str:
    return (str(error).strip().splitlines() or [type(error).__name__])[0]


def roll_call(client: Any, plan: Plan, patience: float) -> tuple[list[str], bool]:
    """Ask every worker of a cluster, as a study would; return a sentence for each, and whether all make the same results.

    client: a `distributed.Client`; plan: of which some runs are tried; patience: s to wait for an answer from all that are there.
    Raises as `work_on` does.
    """
    said: list[str] = []
    events: queue.SimpleQueue[Any] = queue.SimpleQueue()
    began = time.monotonic()
    try:
        crew = Crew(client, plan, said.append, events)
        crew.look()
        while (crew.asked or not (crew.threads or crew.left_out)) and time.monotonic() - began < patience:
            with contextlib.suppress(queue.Empty):
                future = events.get(timeout=LOOK / 2.0)
                if future in crew.asked:
                    crew.answered(future)
            crew.look()
    except OSError as error:
        raise OSError(f"The scheduler at {client.scheduler.address} answers no longer ({_short(error)}).") from error
    if not (crew.threads or crew.left_out or crew.asked):
        raise OSError(f"No worker is at {crew.address}.")
    silent = sorted(set(crew.asked.values()))
    said += [f"Worker {address} has not answered in {patience:.0f} s; it may be busy." for address in silent]
    said += [f"Worker {crew.called(address)} agrees; {threads} thread{'s' if threads > 1 else ''}."
             for address, threads in sorted(crew.threads.items())]
    return said, not (silent or crew.left_out)


# ------------------------------------------------------------------------------------------------------ doing the work
def work_on(client: Any, plan: Plan, todo: Sequence[Slice], tell: Tell, patience: float) -> Iterator[Worked]:
    """Yield the results of every slice of `todo`, in whatever order they come.

    client: a `distributed.Client`; tell: is told who is left out, and in the end who made what; patience: s to wait for a
    worker where there is none. Raises OSError in one sentence where no worker is left, or the scheduler is gone; ValueError where
    the scheduler cannot take the work, or a slice fails.
    """
    address = client.scheduler.address
    try:
        yield from _work_on(client, plan, deque(todo), tell, patience)
    except OSError as error:
        if isinstance(error, Left):
            raise
        raise OSError(f"The scheduler at {address} answers no longer ({_short(error)}); {KEPT}.") from error


class Left(OSError):
    """Raised where nobody is left to do the work."""


def _work_on(client: Any, plan: Plan, left: deque[Slice], tell: Tell, patience: float) -> Iterator[Worked]:
    from distributed.scheduler import KilledWorker

    events: queue.SimpleQueue[Any] = queue.SimpleQueue()
    in_hand: dict[Any, tuple[Slice, frozenset[str], float]] = {}
    failed: Counter[Slice] = Counter()
    late: Counter[Slice] = Counter()
    shares: Counter[str] = Counter()
    crew = Crew(client, plan, tell, events)
    lonely, waiting = time.monotonic(), False
    while left or in_hand:
        crew.look()
        now = time.monotonic()
        for future, (part, allowed, since) in list(in_hand.items()):
            overdue = now - since > OVERDUE * 2.0 ** late[part]
            if overdue or not allowed & crew.threads.keys():  # or nobody who may do it is left
                late[part] += overdue  # it may be long, and not lost
                left.append(part)
                del in_hand[future]
                future.release()
        if crew.threads or set(crew.asked.values()) - crew.busy:
            lonely, waiting = time.monotonic(), False
        elif not waiting and now - lonely > min(LOOK, patience):
            waiting = True
            tell(f"No worker that may do it is at {crew.address}; waiting {patience:.0f} s for one.")
        elif now - lonely > patience:
            raise Left(_nobody(crew, patience))
        while left and len(in_hand) < AHEAD * sum(crew.threads.values()):
            part, allowed = left.popleft(), frozenset(crew.threads)
            future = client.submit(made, plan, part, workers=sorted(allowed), allow_other_workers=False, pure=False)
            in_hand[future] = part, allowed, time.monotonic()
            future.add_done_callback(events.put)
        try:
            future = events.get(timeout=LOOK / 2.0)
        except queue.Empty:
            continue
        if future in crew.asked:
            crew.answered(future)
        if future not in in_hand:
            continue
        part = in_hand[future][0]
        error = None
        if future.status == "finished":
            try:
                worker, done = future.result(timeout=REPLY)
            except OSError:
                future.add_done_callback(events.put)  # its worker died and the result with it; Dask has it made again
                continue
            except Exception as unreadable:  # not what a worker with this course sends
                error = unreadable
            else:
                if isinstance(done, str):
                    error = RuntimeError(f"{worker}: {done}")
                else:
                    del in_hand[future]
                    future.release()
                    wrong = _doubt(plan, part, done)
                    if not wrong:
                        shares[worker] += part.last - part.first
                        yield done
                    else:
                        crew.leave_out(worker, f"it sent a result of another model, {wrong}")
                        left.append(part)
                    continue
        elif future.status == "error":
            error = future.exception(timeout=REPLY)
        del in_hand[future]
        future.release()
        failed[part] += 1
        if isinstance(error, KilledWorker):
            raise Left(f"Runs {part.first} to {part.last - 1} were in the hands of {error.allowed_failures + 1} workers when "
                       f"these died, the last of them {error.last_worker.address}; see what they say (out of memory?). For the "
                       f"rest, {KEPT}.")
        if client.status != "running":
            raise OSError("the connection is lost")
        if failed[part] > ERRORS:
            raise ValueError(f"Runs {part.first} to {part.last - 1} fail on the cluster: {_short(error)}. For the rest, {KEPT}.")
        left.append(part)
        crew.again()
    if shares:
        tell("Made by " + ", ".join(f"{worker}: {count} runs" for worker, count in sorted(shares.items())) + ".")


def _nobody(crew: Crew, patience: float) -> str:
    if crew.left_out:
        return (f"No worker at {crew.address} makes the results that this course makes here (model {model_digest()}), and none "
                f"came in {patience:.0f} s; {KEPT}.")
    return f"No worker is left at {crew.address}, and none came in {patience:.0f} s; {KEPT}."


def _doubt(plan: Plan, part: Slice, done: Any) -> str:
    """Return why a result is not believed, in words, or ""."""
    if not isinstance(done, Worked) or done.part != part:
        return "not the runs that it was given"
    wrong = differences(done.maker, maker())
    if not wrong:
        one = part.by_lot()
        wrong = otherwise(done.table, one.first - part.first, worked(plan, one))
    return wrong
