"""What to check before cutting, and what to try in trouble, as plain data for `summary.json`."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import Any

from .marks import Marks
from .setup_checks import SetupCheck
from .trouble import Trouble, Try
from .units import Own


def checks_summary(checks: Sequence[SetupCheck], own: Own) -> list[dict[str, Any]]:
    """Each check with its limit in SI, and in words that have the `own` units first."""
    return [
        {
            "what": check.what,
            "by": check.by,
            "how": check.how,
            "limit": check.limit,
            "unit": check.unit,
            "kind": check.kind,
            "sense": check.sense,
            "limit_text": check.limit_text(own),
            "why": check.why,
            "origin": check.origin,
        }
        for check in checks
    ]


def troubles_summary(troubles: Sequence[Trouble]) -> list[dict[str, Any]]:
    """Each symptom with causes and tries in order; a gain that no number decides is left out."""
    return [
        {
            "symptom": trouble.symptom,
            "causes": [
                {
                    "cause": cause.cause,
                    "prove": cause.prove,
                    "why": cause.why,
                    "standing": cause.standing,
                    "computed": cause.computed,
                }
                for cause in trouble.causes
            ],
            "tries": [_try(one) for one in trouble.tries],
        }
        for trouble in troubles
    ]


def _try(one: Try) -> dict[str, Any]:
    found: dict[str, Any] = {"do": one.do}
    if one.gain:
        found["gain"] = one.gain
    if one.margin is not None:
        found["gain_margin_times"] = one.margin if isfinite(one.margin) else "none"
    return found


def marks_summary(marks: Marks) -> dict[str, Any]:
    """Pitch of the marks and every part that could sing, the nearest first."""
    return {
        "marks_per_turn": marks.count,
        "spindle_rpm": marks.speed * 60,
        "frequency_Hz": {"low": marks.low, "likely": marks.frequency, "high": marks.high},
        "parts": [
            {
                "part": one.name,
                "frequency_Hz": {"low": one.low, "likely": one.frequency, "high": one.high},
                "fits": one.fits,
            }
            for one in marks.singers
        ],
    }
