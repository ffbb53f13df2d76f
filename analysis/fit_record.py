"""What `fit` leaves: what readings told, as JSON in SI, as a table, and as rows for the case."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from .casefile import CaseFile
from .fit import SupportFit, Told
from .fit_design import ProposedTest
from .measured_rows import MeasuredRow
from .provenance import provenance
from .record import write_table
from .units import Estimate, Own, show

SCHEMA = "barwright.fit/1"
_UNIT = {
    "stiffness": "N_per_m",
    "turn stiffness": "Nm_per_rad",
    "damping": "Ns_per_m",
    "share": "ratio",
}
_COLUMNS = {
    "what": "-",
    "before_low": "SI",
    "before_likely": "SI",
    "before_high": "SI",
    "after_low": "SI",
    "after_likely": "SI",
    "after_high": "SI",
    "learnt": "-",
}


def measured_rows(
    told: Sequence[Told], date: str, how: str, system: Own
) -> tuple[MeasuredRow, ...]:
    """Rows of a measured section for everything the readings told."""
    return tuple(
        MeasuredRow(what=one.name, value=show(one.after, one.kind, system), date=date, how=how)
        for one in told
        if one.tells
    )


def fit_summary(
    case_file: CaseFile, found: SupportFit | None, damping: Sequence[Told]
) -> dict[str, Any]:
    """What readings told as plain data, SI, every key with its unit."""
    return {
        **provenance(SCHEMA, case_file),
        "told": [_told(one) for one in (*(found.told if found else ()), *damping)],
        **(_readings(found) if found else {}),
    }


def _told(one: Told) -> dict[str, Any]:
    unit = _UNIT[one.kind]
    return {
        "what": one.name,
        f"before_{unit}": band(one.before),
        f"after_{unit}": band(one.after),
        "learnt": one.learnt,
        "tells": one.tells,
        "far_from_what_was_thought": one.far_off,
    }


def band(value: Estimate) -> dict[str, float]:
    """Likely value and the range that holds nine in ten."""
    return {"low": value.low, "likely": float(value), "high": value.high}


def _readings(found: SupportFit) -> dict[str, Any]:
    return {
        "misfit": found.misfit,
        "readings_disagree": found.disagrees,
        "correlation": {
            "of": [one.name for one in found.told],
            "matrix": [[round(float(c), 4) for c in row] for row in found.correlation],
        },
        "series": [
            {
                "pull_at_m": one.pull_at,
                "read_at_m": one.read_at,
                "way": one.way,
                "movement_m": one.movement,
                "divisions": one.divisions,
                "most_pull_N": one.most_pull,
                "wanted_pull_N": one.wanted_pull,
            }
            for one in found.series
        ],
        "pitches": [
            {"way": way, "heard_Hz": heard, "before_Hz": before, "after_Hz": after}
            for way, (heard, before, after) in found.pitches.items()
        ],
    }


def design_summary(case_file: CaseFile, tests: Sequence[ProposedTest]) -> dict[str, Any]:
    """Tests foreseen, the one that would tell most first, as plain data."""
    return {
        **provenance(SCHEMA, case_file),
        "tests": [
            {
                "bar_diameter_m": one.bar.diameter,
                "span_m": one.bar.span,
                "own_bar": one.bar.own,
                "places_m": list(one.places),
                "pull_N": one.pull,
                "tapped": one.tapped,
                "least_movement_m": one.least_movement,
                "told": [_told(told) for told in one.told],
            }
            for one in tests
        ],
    }


def write_fit(
    folder: Path, summary: dict[str, Any], told: Sequence[Told], rows: Sequence[MeasuredRow]
) -> None:
    """Write `fit.json`, `fit.csv` and `measured.yaml` into an empty folder.

    Raises
    ------
    OSError
        A file could not be written; the caller throws the folder away.
    """
    from .measured_rows import measured_block

    text = json.dumps(summary, indent=1, allow_nan=False)
    (folder / "fit.json").write_text(text + "\n", encoding="utf-8")
    write_table(folder / "fit.csv", _COLUMNS, _rows(told))
    if rows:
        (folder / "measured.yaml").write_text(measured_block(rows) + "\n", encoding="utf-8")


def _rows(told: Sequence[Told]) -> Iterable[Sequence[object]]:
    for one in told:
        before, after = one.before, one.after
        yield (
            one.name,
            before.low,
            float(before),
            before.high,
            after.low,
            float(after),
            after.high,
            one.learnt,
        )
