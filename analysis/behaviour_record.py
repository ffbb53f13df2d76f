"""Sag, balance and run-out as plain data for `summary.json`, SI, every key with its unit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .balance import Balance, Turning, reached
from .judge import Band
from .run_out import Pattern, meaning

if TYPE_CHECKING:
    from .run import Outcome


def behaviour_summary(outcome: Outcome) -> dict[str, Any]:
    """How the bar behaves by itself; run-out only where it was read."""
    found = {"sag_m": outcome.statics.sag, "balance": balance_summary(outcome.balance)}
    if outcome.run_out is not None:
        found["run_out"] = run_out_summary(outcome.run_out)
    return found


def balance_summary(balance: Balance) -> dict[str, Any]:
    """Unbalance, what it is made of, and what it does at each speed."""
    return {
        "mass_kg": balance.mass,
        "unbalance_kg_m": _band(balance.unbalance),
        "parts": [
            {"part": one.name, "radial_kg_m": one.radial, "tangential_kg_m": one.tangential}
            for one in balance.parts
        ],
        "parts_any_way": [
            {"part": one.name, "unbalance_kg_m": _band(one.size)} for one in balance.anyway
        ],
        "speeds": [_turning(one) for one in balance.turning],
    }


def _turning(turning: Turning) -> dict[str, Any]:
    grade = reached(turning.grade.high)
    return {
        "spindle_rpm": turning.spindle_speed * 60,
        "pull_N": _band(turning.pull),
        "movement_at_bit_m": _band(turning.movement),
        "grade_m_per_s": _band(turning.grade),
        "grade_kept": "none" if grade is None else f"G{grade:g}",
        "allowed_unbalance_kg_m": {f"G{g:g}": value for g, value in turning.allowed.items()},
    }


def run_out_summary(pattern: Pattern) -> dict[str, Any]:
    """What the indicator says of the bar."""
    found: dict[str, Any] = {
        "pattern": pattern.name,
        "meaning": meaning(pattern),
        "readings": pattern.count,
        "indicator_division_m": pattern.division,
        "parts": [{"shape": one.name, "swing_m": one.swing} for one in pattern.faults],
        "swing_at_bit_m": _band(pattern.swing_at_bit),
        "towards_bit_m": _band(pattern.along_bit),
    }
    if pattern.rivals:
        found["fits_alike"] = list(pattern.rivals)
    return found if pattern.residual is None else found | {"largest_residual_m": pattern.residual}


def _band(band: Band) -> dict[str, float]:
    return {"low": band.low, "likely": band.likely, "high": band.high}
