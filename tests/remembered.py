"""What a case comes to, found once in a process and kept for every test that asks again.

An outcome cannot be changed, and no title, paper or name of a lathe changes a number of it.
"""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cache
from pathlib import Path

import pytest
from late_runs import late_run

from barwright.analysis import record, run
from barwright.analysis.case import Case, Job
from barwright.analysis.casefile import CaseFile, read_case_file
from barwright.analysis.hole_in_beam import block_of
from barwright.analysis.run import ModelKind, Outcome
from barwright.analysis.setup_checks import SetupCheck, setup_checks
from barwright.analysis.trouble import Trouble, troubles

CASES = Path(__file__).parents[1] / "cases"
_solve = run.analyse
_outcomes: dict[object, Outcome] = {}
_checks: dict[object, tuple[Outcome, tuple[SetupCheck, ...]]] = {}
_troubles: dict[object, tuple[Outcome, tuple[Trouble, ...]]] = {}


def _numbers(case: Case) -> tuple[object, ...]:
    """All of a case that a number can come from, and whether its hole was solved."""
    nameless = case.lathe.model_copy(update={"name": ""})
    plain = case.model_copy(update={"title": "", "job": Job(), "lathe": nameless})
    return repr(plain), block_of(case) is not None


def _solution(outcome: Outcome) -> tuple[object, ...]:
    """Which results an outcome holds, whatever its case is called."""
    parts = (getattr(outcome, one.name) for one in fields(outcome) if one.name != "case")
    return (*_numbers(outcome.case), *map(id, parts))


def analysed(case: Case, kind: ModelKind = "beam", *, history: bool = False) -> Outcome:
    """Do what `analyse` does, once for the numbers of a case."""
    key = (*_numbers(case), kind, history)
    if key not in _outcomes:
        _outcomes[key] = _solve(case, kind, history=history)
    return replace(_outcomes[key], case=case)


def checked(case: Case, outcome: Outcome) -> tuple[SetupCheck, ...]:
    """Do what `setup_checks` does, once for an outcome."""
    key = _solution(outcome)
    if key not in _checks:
        _checks[key] = outcome, setup_checks(case, outcome)
    return _checks[key][1]


def troubled(case: Case, outcome: Outcome) -> tuple[Trouble, ...]:
    """Do what `troubles` does, once for an outcome."""
    key = _solution(outcome)
    if key not in _troubles:
        _troubles[key] = outcome, troubles(case, outcome)
    return _troubles[key][1]


@cache
def solved(name: str) -> tuple[CaseFile, Outcome]:
    """Return a shipped case and its outcome, the hole from the table."""
    case_file = read_case_file(CASES / f"{name}.yaml")
    return case_file, analysed(case_file.case)


@cache
def late(name: str) -> Outcome:
    """Return a shipped case's outcome, solved only as far as tests read it."""
    return late_run(read_case_file(CASES / f"{name}.yaml").case)


def remember(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every command of this process solve a case only if none before it did."""
    monkeypatch.setattr(run, "analyse", analysed)
    monkeypatch.setattr(record, "setup_checks", checked)
    monkeypatch.setattr(record, "troubles", troubled)
