"""A crew: processes that carry out one job at a time, so that the death of one costs one job.

A pool of the standard library breaks as a whole when a worker is killed, or waits for ever. Here
each worker has a pipe of its own; when it closes early, the job that the worker had is lost, a
new worker is started, and the others go on.
"""

from __future__ import annotations

import contextlib
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from typing import Any, Generic, NoReturn, TypeVar

T = TypeVar("T")
R = TypeVar("R")
_TERMINATED = 143
_PATIENCE = 3.0
"""Seconds that a worker has to tidy up in before it is stopped the hard way."""


@dataclass(frozen=True, slots=True)
class Died:
    """What is left of a job whose worker died over it.

    Attributes
    ----------
    how : in words, such as ``signal 11, SIGSEGV``
    """

    how: str


@dataclass(frozen=True, slots=True)
class _Worker(Generic[T, R]):
    process: SpawnProcess
    pipe: Connection
    number: int


def done_by_crew(
    job: Callable[[T], R], tasks: Sequence[T], count: int
) -> Iterator[tuple[int, R | Died]]:
    """Number and result of each task as it is finished, in no order.

    Leaving the loop early, by an error or by Ctrl-C, stops the workers.

    Parameters
    ----------
    job : a function of a module; it and what goes through it can be pickled
    count : most workers at once
    """
    waiting = list(enumerate(tasks))[::-1]
    crew: list[_Worker[T, R]] = []
    try:
        while waiting or crew:
            while waiting and len(crew) < max(1, count):
                crew.append(_put_to_work(job, *waiting.pop()))
            for worker in _ready(crew):
                crew.remove(worker)
                try:
                    found: R | Died = worker.pipe.recv()
                except (EOFError, ConnectionError):
                    found = _obituary(worker.process)
                else:
                    crew += _next(worker, waiting)
                yield worker.number, found
    finally:
        for worker in crew:
            worker.process.terminate()
        for worker in crew:
            worker.process.join(_PATIENCE)
            worker.process.kill()
            worker.process.join()


def _ready(crew: list[_Worker[T, R]]) -> list[_Worker[T, R]]:
    heard = wait([worker.pipe for worker in crew])
    return [worker for worker in crew if worker.pipe in heard]


def _put_to_work(job: Callable[[T], R], number: int, task: T) -> _Worker[T, R]:
    context = get_context("spawn")
    pipe, far = context.Pipe()
    process = context.Process(target=_work, args=(job, far), daemon=True)
    process.start()
    far.close()
    return _given(_Worker(process, pipe, number), task)


def _next(worker: _Worker[T, R], waiting: list[tuple[int, T]]) -> list[_Worker[T, R]]:
    """The worker with its next task, or nothing once it has gone home."""
    if not waiting:
        worker.pipe.close()
        worker.process.join()
        return []
    number, task = waiting.pop()
    return [_given(_Worker(worker.process, worker.pipe, number), task)]


def _given(worker: _Worker[T, R], task: T) -> _Worker[T, R]:
    """The worker with its task; that it is dead already shows when it is listened to."""
    with contextlib.suppress(ConnectionError):
        worker.pipe.send(task)
    return worker


def _obituary(process: SpawnProcess) -> Died:
    process.join()
    code = process.exitcode or 0
    if code >= 0:
        return Died(f"status {code}")
    with contextlib.suppress(ValueError):
        return Died(f"signal {-code}, {signal.Signals(-code).name}")
    return Died(f"signal {-code}")


def _work(job: Callable[[Any], Any], pipe: Connection) -> None:
    """Carry out what comes through the pipe until it closes; Ctrl-C is for the foreman."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _leave)
    with contextlib.suppress(EOFError, ConnectionError):
        while True:
            pipe.send(job(pipe.recv()))


def _leave(_signal: int, _frame: object) -> NoReturn:
    raise SystemExit(_TERMINATED)


def cores() -> int:
    """Processors that this process may use."""
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity else os.cpu_count() or 1
