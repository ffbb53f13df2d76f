"""What `speeds` leaves: every speed judged, as JSON in SI and as a table with a row of units."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from .casefile import CaseFile
from .provenance import provenance
from .record import write_table
from .speed_choice import SpeedChoice
from .speed_summary import finite, judged_speeds, margin_band

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
    return {
        **provenance(SCHEMA, case_file),
        **judged_speeds(choice),
        "lathe_has_speeds": bool(case_file.case.lathe.speeds),
        "margin_wanted": float(case_file.case.limits.chatter_margin),
    }


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
            *margin_band(margins.whole).values(),
            *margin_band(margins.bare).values(),
            finite(margins.frequency),
            finite(row.waves_per_turn),
            near.source,
            near.separation,
            row.unbalance,
            "; ".join(reason.text for reason in row.reasons),
        )
