"""What `speeds` leaves: every speed judged, as JSON in SI and as a table with a row of units."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from importlib.metadata import version
from math import isfinite
from pathlib import Path
from typing import Any

from .casefile import CaseFile
from .record import write_table
from .speed_choice import JudgedSpeed, SpeedChoice

SCHEMA = "barwright.speeds/1"
_COLUMNS = {
    "spindle": "rpm",
    "surface_speed": "m/min",
    "on_lathe": "-",
    "this_cut": "-",
    "verdict": "-",
    "margin_low": "-",
    "margin_likely": "-",
    "margin_high": "-",
    "margin_without_rubbing_low": "-",
    "margin_without_rubbing_likely": "-",
    "margin_without_rubbing_high": "-",
    "chatter_frequency": "Hz",
    "waves_per_turn": "-",
    "nearest_shake": "-",
    "separation": "-",
    "unbalance": "N",
    "reasons": "-",
}


def speeds_summary(case_file: CaseFile, choice: SpeedChoice) -> dict[str, Any]:
    """The choice of speed as plain data, SI, every key with its unit."""
    runner_up = choice.runner_up
    return {
        "schema": SCHEMA,
        "barwright": version("barwright"),
        "case": {
            "title": case_file.case.title,
            "file": Path(case_file.source.file).name,
            "sha256": case_file.sha256,
        },
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
        "lathe_has_speeds": bool(case_file.case.lathe.speeds),
        "margin_wanted": float(case_file.case.limits.chatter_margin),
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
        "gain_margin": _band(margins.whole),
        "gain_margin_without_process_damping": _band(margins.bare),
        "frequency_Hz": _finite(margins.frequency),
        "waves_per_turn": _finite(row.waves_per_turn),
        "nearest_shake": {
            "source": near.source,
            "frequency_Hz": near.frequency,
            "mode_Hz": near.mode,
            "separation": near.separation,
        },
        "unbalance_N": row.unbalance,
    }
    if margins.lobe is not None:
        found["gain_margin_in_lobe"] = _finite(margins.lobe)
    return found


def _band(margin: Mapping[Any, float]) -> dict[str, float | str]:
    return {end: _finite(value) for end, value in margin.items()}


def _finite(value: float) -> float | str:
    """A number that JSON can hold; what does not exist is the word `none`."""
    return float(value) if isfinite(value) else "none"


def write_speeds(folder: Path, case_file: CaseFile, choice: SpeedChoice) -> None:
    """Write `speeds.json` and `speeds.csv` into an empty folder.

    Raises
    ------
    OSError
        A file could not be written; the caller throws the folder away.
    """
    text = json.dumps(speeds_summary(case_file, choice), indent=1, allow_nan=False)
    (folder / "speeds.json").write_text(text + "\n", encoding="utf-8")
    write_table(folder / "speeds.csv", _COLUMNS, _rows(choice))


def _rows(choice: SpeedChoice) -> Iterable[Sequence[object]]:
    for row in choice.speeds:
        margins, near = row.margins, row.check.nearest
        yield (
            row.speed * 60,
            row.surface_speed * 60,
            "yes" if row.on_lathe else "no",
            "yes" if row.asked else "no",
            row.verdict,
            *_band(margins.whole).values(),
            *_band(margins.bare).values(),
            _finite(margins.frequency),
            _finite(row.waves_per_turn),
            near.source,
            near.separation,
            row.unbalance,
            "; ".join(reason.text for reason in row.reasons),
        )
