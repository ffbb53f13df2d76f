"""What to try when a cut goes wrong: causes and tries in order, by this job's own numbers.

The table, `troubles.yaml`, has the order of common practice. Where a number of the case decides, a
cause moves to the front or to the back (`cause`), and a try is told by what it brings (`remedy`):
a free one still comes before a dear one, and of those that cost the same the one that brings most.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from .case import Case
from .cause import STANDINGS, VERDICTS, Standing
from .remedy import Remedy, Workshop
from .run import Outcome
from .support import Chuck, Collet, DogCentre
from .units import quoted

FILE = Path(__file__).with_name("troubles.yaml")
NEEDS = {
    "tail": "no support at its tail",
    "chuck": "no chuck or collet",
    "dog": "no dog",
}
"""What a symptom may need, and the words for a case that has it not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseRow:
    """A cause as it stands in the table; `why` is empty where a number says it."""

    cause: str
    prove: str
    why: str = ""
    number: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TryRow:
    """A try as it stands in the table; effort 0 at once, 1 a cut, 2 a setting, 3 a new part."""

    do: str
    effort: int
    number: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Symptom:
    """A symptom of the table.

    Attributes
    ----------
    name, also : what it is called, and what else
    needs : a key of `NEEDS`, or empty
    finish : whether its tries are for the last pass
    causes, tries : in the order of common practice
    """

    name: str
    also: tuple[str, ...]
    needs: str
    finish: bool
    causes: tuple[CauseRow, ...]
    tries: tuple[TryRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One thing that may be behind a symptom.

    Attributes
    ----------
    cause : what
    prove : how to tell
    why : this job's number, or how it comes about
    standing : what the number says of it; open where no number decides
    computed : whether a number of this job decides
    """

    cause: str
    prove: str
    why: str
    standing: Standing
    computed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Try:
    """One thing to try.

    Attributes
    ----------
    do : what
    gain : what it brings here, in words; empty where no number decides
    margin : times the likely gain margin against chatter; None where that was not solved
    """

    do: str
    gain: str
    margin: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """One symptom with its causes and tries, the first to look at first."""

    symptom: str
    causes: tuple[Cause, ...]
    tries: tuple[Try, ...]


# --- the table -------------------------------------------------------------------------------


@cache
def symptoms() -> Mapping[str, Symptom]:
    """The table by name, in its order."""
    stored: dict[str, Any] = yaml.load(FILE.read_text(encoding="utf-8"), Loader=yaml.CSafeLoader)
    return {
        name: Symptom(
            name=name,
            also=tuple(row.get("also", ())),
            needs=row.get("needs", ""),
            finish=row.get("cut") == "finish",
            causes=tuple(CauseRow(**cause) for cause in row["causes"]),
            tries=tuple(TryRow(**one) for one in row["tries"]),
        )
        for name, row in stored.items()
    }


def symptom_named(text: str) -> Symptom:
    """The symptom that the shop calls so.

    Raises
    ------
    ValueError
        It is not in the table; the nearest is offered.
    """
    names = {
        _plain(name): symptom
        for symptom in symptoms().values()
        for name in (symptom.name, *symptom.also)
    }
    found = names.get(_plain(text))
    if found is None:
        near = get_close_matches(_plain(text[:100]), names, n=1, cutoff=0.6)
        hint = f"; did you mean {names[near[0]].name}?" if near else "."
        message = f"{quoted(text)} is not a symptom in the table{hint} It has: "
        raise ValueError(message + ", ".join(symptoms()))
    return found


def _plain(name: str) -> str:
    return " ".join(name.lower().replace("-", " ").replace("_", " ").split())


def lacks(case: Case, symptom: Symptom) -> str:
    """What the case lacks to have the symptom, in words; empty if nothing."""
    drive = case.supports.drive
    has = {
        "": True,
        "tail": case.supports.tail is not None,
        "chuck": isinstance(drive, Chuck | Collet),
        "dog": isinstance(drive, DogCentre),
    }
    return "" if has[symptom.needs] else NEEDS[symptom.needs]


# --- for one case ----------------------------------------------------------------------------


def troubles(case: Case, outcome: Outcome) -> tuple[Trouble, ...]:
    """Every symptom that the case can have, its causes and tries in order for it."""
    shop = Workshop(case, outcome)
    return tuple(trouble(shop, one) for one in possible(case))


def possible(case: Case) -> list[Symptom]:
    """The symptoms that a case can have."""
    return [one for one in symptoms().values() if not lacks(case, one)]


def trouble(shop: Workshop, symptom: Symptom) -> Trouble:
    """One symptom, its causes and tries in order for the case."""
    causes = [_cause(shop, row) for row in symptom.causes]
    return Trouble(
        symptom=symptom.name,
        causes=tuple(sorted(causes, key=lambda one: STANDINGS.index(one.standing))),
        tries=tuple(_ordered(shop.finishing if symptom.finish else shop, symptom.tries)),
    )


def _cause(shop: Workshop, row: CauseRow) -> Cause:
    if not row.number:
        return Cause(
            cause=row.cause, prove=row.prove, why=row.why, standing="open", computed=False
        )
    verdict = VERDICTS[row.number](shop)
    return Cause(
        cause=row.cause,
        prove=row.prove,
        why=verdict.why,
        standing=verdict.standing,
        computed=True,
    )


def _ordered(shop: Workshop, rows: Iterable[TryRow]) -> list[Try]:
    """Tries by effort; within it plain ones first, then by gain; those that buy nothing last."""
    ranked = []
    for place, row in enumerate(rows):
        remedy = shop.remedy(row.number) if row.number else Remedy(gain="")
        if remedy is None:
            continue
        made = Try(do=remedy.do or row.do, gain=remedy.gain, margin=remedy.margin)
        gained = 0.0 if remedy.margin is None else -remedy.margin
        key = (remedy.idle, row.effort, remedy.margin is not None, gained, place)
        ranked.append((key, made))
    return [made for _, made in sorted(ranked, key=lambda one: one[0])]
