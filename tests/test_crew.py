"""Jobs done by other processes: each by itself, so that the death of one costs one."""

from __future__ import annotations

import os
import signal
import time

import pytest

from barwright.analysis.crew import Died, done_by_crew


def square(number: int) -> int:
    return number * number


def who(_: int) -> int:
    time.sleep(0.05)
    return os.getpid()


def die(how: str) -> str:
    if how == "leave":
        os._exit(7)
    if how.startswith("SIG"):
        os.kill(os.getpid(), getattr(signal, how))
    return how


def sleep_long(seconds: float) -> float:
    time.sleep(seconds)
    return seconds


def test_every_task_comes_back_once_with_its_number() -> None:
    found = dict(done_by_crew(square, range(7), 2))
    assert found == {number: number * number for number in range(7)}


def test_no_task_needs_no_worker() -> None:
    assert list(done_by_crew(square, [], 2)) == []


def test_workers_are_other_processes_and_are_used_again() -> None:
    workers = {pid for _, pid in done_by_crew(who, range(8), 2)}
    assert os.getpid() not in workers
    assert len(workers) == 2


def test_a_death_costs_one_task() -> None:
    tasks = ["a", "SIGSEGV", "b", "leave", "SIGKILL", "c"]
    found = dict(done_by_crew(die, tasks, 2))
    assert [found[number] for number in (0, 2, 5)] == ["a", "b", "c"]
    assert found[1] == Died("signal 11, SIGSEGV")
    assert found[3] == Died("status 7")
    assert found[4] == Died("signal 9, SIGKILL")


def deaf(seconds: float) -> float:
    if seconds:
        signal.signal(signal.SIGTERM, signal.SIG_IGN)
    time.sleep(seconds)
    return seconds


def test_a_worker_that_does_not_listen_is_stopped_all_the_same() -> None:
    began = time.monotonic()
    crew = done_by_crew(deaf, [0.0, 600.0], 2)
    assert next(crew) == (0, 0.0)
    time.sleep(2)
    crew.close()  # type: ignore[attr-defined]
    assert time.monotonic() - began < 60


def test_leaving_early_stops_the_workers() -> None:
    began = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        for number, _ in done_by_crew(sleep_long, [0.0, 600.0, 600.0], 2):
            assert number == 0
            raise KeyboardInterrupt
    assert time.monotonic() - began < 30
