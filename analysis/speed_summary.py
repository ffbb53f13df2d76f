"""The judged speeds as plain data, SI, every key with its unit: for `run` and `speeds` alike."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from typing import Any

from .speed_choice import JudgedSpeed, SpeedChoice


def judged_speeds(choice: SpeedChoice) -> dict[str, Any]:
    """Which speed to take, and every speed with what speaks for and against it."""
    runner_up = choice.runner_up
    return {
        "asked": {
            "spindle_rpm": choice.asked.speed * 60,
            "verdict": choice.asked.verdict,
        },
        "pick": {
            "spindle_rpm": choice.pick.speed * 60,
            "verdict": choice.pick.verdict,
            "why": choice.why,
        },
        "runner_up": "none"
        if runner_up is None
        else {"spindle_rpm": runner_up.speed * 60, "verdict": runner_up.verdict},
        "notes": list(choice.notes),
        "speeds": [_speed(row) for row in choice.speeds],
    }


def _speed(row: JudgedSpeed) -> dict[str, Any]:
    margins, near = row.margins, row.check.nearest
    found: dict[str, Any] = {
        "spindle_rpm": row.speed * 60,
        "surface_speed_m_per_s": row.surface_speed,
        "on_lathe": row.on_lathe,
        "this_cut": row.asked,
        "verdict": row.verdict,
        "reasons": [
            {"verdict": one.verdict, "short": one.short, "text": one.text} for one in row.reasons
        ],
        "gain_margin": margin_band(margins.whole),
        "gain_margin_without_process_damping": margin_band(margins.bare),
        "frequency_Hz": finite(margins.frequency),
        "waves_per_turn": finite(row.waves_per_turn),
        "nearest_shake": {
            "source": near.source,
            "frequency_Hz": near.frequency,
            "mode_Hz": near.mode,
            "separation": near.separation,
        },
        "unbalance_N": row.unbalance,
    }
    if margins.lobe is not None:
        found["gain_margin_in_lobe"] = finite(margins.lobe)
    return found


def margin_band(margin: Mapping[Any, float]) -> dict[str, float | str]:
    """Ends of a margin by name."""
    return {end: finite(value) for end, value in margin.items()}


def finite(value: float) -> float | str:
    """A number that JSON can hold; what does not exist is the word `none`."""
    return float(value) if isfinite(value) else "none"
