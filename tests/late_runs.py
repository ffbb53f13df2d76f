"""Runs that go no farther than a test looks: a stage is carried out when it is first asked for.

What is asked for is what a whole run finds, by the same stages in the same order; what nobody
reads is never solved. The loop, its limits and its curves, and how far out the ranges go are most
of the time of a run, and few tests read them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from functools import cached_property, partial
from itertools import chain
from operator import attrgetter, itemgetter
from types import SimpleNamespace
from typing import Any, TypeVar, cast

import pytest

from barwright.analysis import run
from barwright.analysis.case import Case
from barwright.analysis.odds import Odds, odds
from barwright.analysis.run import Outcome, analyse

STAGES = (
    "narrowed",
    "corners",
    "solve_chatter",
    "choose_speed",
    "sung_by",
    "loop_curves",
    "plan_passes",
)
FINDINGS = ("judge", "strength_findings", "holding_findings", "run_out_findings")
Found = TypeVar("Found")


class _Later:
    """What a function gives for what was found before it, asked for when a test looks at it."""

    def __init__(self, ask: Callable[..., Any], arguments: tuple[Any, ...]) -> None:
        self._ask, self._arguments = ask, arguments

    @cached_property
    def _found(self) -> Any:
        known = (one._found if isinstance(one, _Later) else one for one in self._arguments)
        return self._ask(*known)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._found, name)

    def __getitem__(self, key: Any) -> Any:
        return later(itemgetter(key), self)

    def __iter__(self) -> Iterator[Any]:
        return iter(self._found)

    def __bool__(self) -> bool:
        return bool(self._found)


def later(ask: Callable[..., Found], *arguments: Any) -> Found:
    """What `ask` gives for the arguments, when something of it is first looked at."""
    return cast("Found", _Later(ask, arguments))


def late_run(case: Case) -> Outcome:
    """A run of a case whose loop, bands, passes and verdict wait until a test reads them."""
    stages = {name: partial(later, getattr(run, name)) for name in STAGES}
    findings = {name: partial(_one_later, getattr(run, name)) for name in FINDINGS}
    bands = run._bands
    with pytest.MonkeyPatch.context() as patch:
        for name, stage in (stages | findings).items():
            patch.setattr(run, name, stage)
        patch.setattr(run, "odds", partial(_parts_later, odds))
        patch.setattr(run, "_bands", lambda *given: _pair_later(bands, *given))
        outcome = analyse(case)
    return replace(outcome, findings=later(_all_of, *outcome.findings))


def _one_later(ask: Callable[..., Any], *arguments: Any) -> tuple[Any]:
    return (later(ask, *arguments),)


def _all_of(*groups: Any) -> tuple[Any, ...]:
    return tuple(chain.from_iterable(groups))


def _parts_later(ask: Callable[[Case], Odds], case: Case) -> Any:
    whole = later(ask, case)
    names = (one.name for one in fields(Odds))
    return SimpleNamespace(**{name: later(attrgetter(name), whole) for name in names})


def _pair_later(ask: Callable[..., Any], *arguments: Any) -> tuple[Any, Any]:
    whole = later(ask, *arguments)
    return later(itemgetter(0), whole), later(itemgetter(1), whole)
