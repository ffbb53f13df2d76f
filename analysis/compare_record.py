"""What `compare` leaves: every variant, best first, as JSON in SI and a table with units."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from math import isfinite
from pathlib import Path
from typing import Any

from .casefile import CaseFile
from .compare import Change, Comparison, SteelRow, changes_said, steel_said, support_said
from .judge import Band
from .provenance import provenance
from .record import write_table
from .variant import Variant

SCHEMA = "barwright.compare/1"
BLANK = {"low": "", "likely": "", "high": ""}
"""Cells of what does not apply: no screws, or no steel."""
_COLUMNS = {
    "rank": "-",
    "tied": "-",
    "this_case": "-",
    "within_limits": "-",
    "support": "-",
    "material": "-",
    "diameter": "mm",
    "span": "mm",
    "cross_hole_position": "mm",
    "projection": "mm",
    "margin_low": "-",
    "margin_likely": "-",
    "margin_high": "-",
    "size_error_low": "um",
    "size_error_likely": "um",
    "size_error_high": "um",
    "stiffness_low": "N/um",
    "stiffness_likely": "N/um",
    "stiffness_high": "N/um",
    "first_mode_low": "Hz",
    "first_mode_likely": "Hz",
    "first_mode_high": "Hz",
    "allowed_loop_gain": "N/um",
    "depth_limit": "mm",
    "nose_radius_limit": "mm",
    "stress_nominal": "MPa",
    "stress_peak_likely": "MPa",
    "yield_strength": "MPa",
    "yield_margin_low": "-",
    "yield_margin_likely": "-",
    "yield_margin_high": "-",
    "fatigue_margin_low": "-",
    "fatigue_margin_likely": "-",
    "fatigue_margin_high": "-",
    "screw_hold_margin_low": "-",
    "screw_hold_margin_likely": "-",
    "screw_hold_margin_high": "-",
    "thread_strip_margin": "-",
    "weight": "kg",
    "reason": "-",
}


def comparison_summary(case_file: CaseFile, comparison: Comparison) -> dict[str, Any]:
    """The comparison as plain data, SI, every key with its unit."""
    found: dict[str, Any] = {
        **provenance(SCHEMA, case_file),
        "within_limits": comparison.any_ok,
        "margin_wanted": float(case_file.case.limits.chatter_margin),
        "variants": [_variant(row) for row in comparison.rows],
        "refused": [asdict(one) for one in comparison.refused],
        "steel": {
            "answer": steel_said(comparison.steel),
            "over_hot_rolled_mild_steel": [_steel(row) for row in comparison.steel],
        },
        "what_buys_most": {
            "answer": changes_said(comparison.changes),
            "changes": [_change(change) for change in comparison.changes],
            "cannot_be_made": [asdict(one) for one in comparison.barred],
        },
    }
    if comparison.support is not None:
        found["chuck_or_centres"] = _support(comparison)
    return found


def _support(comparison: Comparison) -> dict[str, Any]:
    answer = comparison.support
    assert answer is not None
    return {
        "answer": support_said(answer, comparison.case.own),
        "take": answer.chosen,
        "gripping": answer.gripping,
        "stiffness_ratio": _band(answer.stiffness),
        "gain_margin_ratio": _band(answer.margin),
        "tilt_stiffness_Nm_per_rad": answer.tilt,
        "as_stiff_at_Nm_per_rad": _flip(answer.even),
        "flips_at_Nm_per_rad": _flip(answer.worth),
    }


def _flip(value: float) -> float | str:
    """A tilt stiffness at which something flips; a word where none does."""
    return "at any" if value == 0.0 else _number(value)


def _steel(row: SteelRow) -> dict[str, Any]:
    ratio = row.yield_ratio
    return {
        "material": row.material.name,
        "stiffness_ratio": row.stiffness,
        "first_mode_ratio": row.first_mode,
        "gain_margin_ratio": row.margin,
        "yield_strength_Pa": float(row.material.yield_strength),
        "yield_ratio": {"low": ratio.low, "likely": float(ratio), "high": ratio.high},
        **_strength(row.variant),
        "meets_strength_limits": row.variant.strong,
    }


def _change(change: Change) -> dict[str, Any]:
    return {
        "what": change.what,
        "gain_margin_ratio": _number(change.margin),
        "stiffness_ratio": change.stiffness,
        "within_limits": change.ok,
    }


def _number(value: float | str) -> float | str:
    """A number that JSON can hold; what does not exist is the word `none`."""
    if isinstance(value, str):
        return value
    return float(value) if isfinite(value) else "none"


def _band(band: Band) -> dict[str, float | str]:
    return {end: _number(getattr(band, end)) for end in ("low", "likely", "high")}


def _margin(row: Variant) -> dict[str, float | str]:
    margin: Mapping[Any, float] = row.chatter.margin
    return {end: _number(margin[end]) for end in ("low", "likely", "high")}


def _variant(row: Variant) -> dict[str, Any]:
    case = row.case
    return {
        "rank": row.rank,
        "tied": row.tied,
        "this_case": row.own,
        "within_limits": row.ok,
        "reason": row.reason,
        "support": row.support,
        "material": row.material.name,
        "diameter_m": float(case.bar.diameter),
        "span_m": float(case.bar.span),
        "cross_hole_position_m": float(case.cross_hole.position),
        "projection_m": float(case.projection),
        "gain_margin": _margin(row),
        "size_error_m": _band(row.size_error),
        "stiffness_radial_N_per_m": _band(row.stiffness),
        "first_mode_Hz": _band(row.first_mode),
        "allowed_loop_gain_N_per_m": _number(row.allowed_gain),
        "depth_limit_m": _number(row.depth_limit),
        "nose_radius_limit_m": _number(row.nose_radius_limit),
        "stress_nominal_Pa": row.strength.nominal,
        "stress_peak_Pa": _band(row.strength.peak),
        "yield_strength_Pa": float(row.material.yield_strength),
        **_strength(row),
        "weight_kg": row.weight,
        "missed": [finding.what for finding in row.findings if not finding.ok],
    }


def _strength(row: Variant) -> dict[str, Any]:
    """Margins at the hole and of the set screws; what does not apply is left out."""
    found: dict[str, Any] = {"yield_margin": _band(row.yield_margin)}
    if row.fatigue_margin is not None:
        found["fatigue_margin"] = _band(row.fatigue_margin)
    if row.holding.hold_margin is not None:
        found["screw_hold_margin"] = _band(row.holding.hold_margin)
    if row.thread_margin is not None:
        found["thread_strip_margin"] = row.thread_margin
    return found


def write_comparison(folder: Path, case_file: CaseFile, comparison: Comparison) -> None:
    """Write `compare.json` and `compare.csv` into an empty folder.

    Raises
    ------
    OSError
        A file could not be written; the caller throws the folder away.
    """
    found = comparison_summary(case_file, comparison)
    text = json.dumps(found, indent=1, allow_nan=False)
    (folder / "compare.json").write_text(text + "\n", encoding="utf-8")
    write_table(folder / "compare.csv", _COLUMNS, _rows(found["variants"]))


def _rows(variants: Iterable[Mapping[str, Any]]) -> Iterable[Sequence[object]]:
    for row in variants:
        yield (
            row["rank"],
            *("yes" if row[key] else "no" for key in ("tied", "this_case", "within_limits")),
            row["support"],
            row["material"],
            *(
                row[key] * 1e3
                for key in ("diameter_m", "span_m", "cross_hole_position_m", "projection_m")
            ),
            *row["gain_margin"].values(),
            *(value * 1e6 for value in row["size_error_m"].values()),
            *(value / 1e6 for value in row["stiffness_radial_N_per_m"].values()),
            *row["first_mode_Hz"].values(),
            _scaled(row["allowed_loop_gain_N_per_m"], 1e-6),
            _scaled(row["depth_limit_m"], 1e3),
            _scaled(row["nose_radius_limit_m"], 1e3),
            row["stress_nominal_Pa"] / 1e6,
            _scaled(row["stress_peak_Pa"]["likely"], 1e-6),
            row["yield_strength_Pa"] / 1e6,
            *row["yield_margin"].values(),
            *row.get("fatigue_margin", BLANK).values(),
            *row.get("screw_hold_margin", BLANK).values(),
            row.get("thread_strip_margin", ""),
            row["weight_kg"],
            row["reason"],
        )


def _scaled(value: float | str, factor: float) -> float | str:
    return value if isinstance(value, str) else value * factor
