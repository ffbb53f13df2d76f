"""What to try when a cut goes wrong: causes and tries in order, by this job's own numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Standing = Literal["likely", "open", "unlikely", "ruled out"]


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
