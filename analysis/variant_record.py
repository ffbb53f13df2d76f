"""What `run --variants` leaves: a row for each variant, its inputs and its main answers."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from math import isinf, pi
from pathlib import Path
from typing import Any

from .casefile import CaseFile
from .inputs import SI_UNIT, Input
from .provenance import provenance
from .record import write_table
from .variant_table import Row, VariantTable, kind_at

SCHEMA = "barwright.variants/1"
_SHOP: dict[str, tuple[str, float]] = {
    "length": ("mm", 1e3),
    "feed": ("mm/rev", 1e3),
    "stiffness": ("N/um", 1e-6),
    "stress": ("MPa", 1e-6),
    "spindle speed": ("rpm", 60.0),
    "surface speed": ("m/min", 60.0),
    "angle": ("deg", 180 / pi),
}
_ANSWERS: dict[str, tuple[str, float, tuple[str, ...]]] = {
    "size_error_low": ("um", 1e6, ("static", "bore_diameter_error_size_m", "low")),
    "size_error_likely": ("um", 1e6, ("static", "bore_diameter_error_size_m", "likely")),
    "size_error_high": ("um", 1e6, ("static", "bore_diameter_error_size_m", "high")),
    "stiffness_radial": ("N/um", 1e-6, ("static", "stiffness_radial_N_per_m")),
    "stiffness_tangential": ("N/um", 1e-6, ("static", "stiffness_tangential_N_per_m")),
    "force_radial": ("N", 1.0, ("cut", "force_radial_N")),
    "force_tangential": ("N", 1.0, ("cut", "force_tangential_N")),
    "first_mode_low": ("Hz", 1.0, ("speed", "first_mode_Hz", "low")),
    "first_mode_likely": ("Hz", 1.0, ("speed", "first_mode_Hz", "likely")),
    "first_mode_high": ("Hz", 1.0, ("speed", "first_mode_Hz", "high")),
    "gain_margin_low": ("-", 1.0, ("chatter", "gain_margin", "low")),
    "gain_margin_likely": ("-", 1.0, ("chatter", "gain_margin", "likely")),
    "gain_margin_high": ("-", 1.0, ("chatter", "gain_margin", "high")),
    "gain_margin_unrubbed": ("-", 1.0, ("chatter", "gain_margin_without_process_damping")),
    "depth_limit": ("mm", 1e3, ("chatter", "depth_limit_m", "likely")),
}
"""Columns of the answers: unit, what turns SI into it, place in a summary."""


def answered(
    case_file: CaseFile, keys: Sequence[str], row: Row, summary: Mapping[str, Any]
) -> dict[str, Any]:
    """A variant with what the table changes and its answers as plain data, SI."""
    values = {one.name.removesuffix(".name"): one for one in case_file.inputs}
    return {
        "name": row.name,
        "line": row.line,
        "inputs": {key: _value(values[key]) for key in keys if key in values},
        "within_limits": summary["within_limits"],
        "missed": [one["what"] for one in summary["findings"] if not one["ok"]],
        **{part: summary[part] for part in ("cut", "static", "modes", "chatter")},
        "speed": {key: value for key, value in summary["speed"].items() if key != "whirl"},
    }


def unanswered(row: Row, problems: Sequence[str]) -> dict[str, Any]:
    """A variant that could not be answered, and why."""
    inputs = dict(row.changed)
    return {"name": row.name, "line": row.line, "inputs": inputs, "problems": list(problems)}


def _value(one: Input) -> float | str:
    """The value of an input, SI; words as they are, a fit as it was typed, rigid as that word."""
    if isinstance(one.value, str):
        return one.value
    if isinf(one.value):
        return "rigid"
    return one.text if one.kind == "fit" and one.text else one.value


def variants_summary(
    case_file: CaseFile, table: VariantTable, model: str, found: Sequence[Mapping[str, Any]]
) -> dict[str, Any]:
    """Every variant as plain data, in the order of the table."""
    return {
        **provenance(SCHEMA, case_file),
        "table": {"file": table.source.name, "sha256": table.source.sha256},
        "model": {"kind": model},
        "variants": list(found),
    }


def write_variants(
    folder: Path, case_file: CaseFile, table: VariantTable, summary: Mapping[str, Any]
) -> None:
    """Write table, summary, and what they were made of into an empty folder.

    Raises
    ------
    OSError
        A file could not be written; the caller throws the folder away.
    """
    text = json.dumps(summary, indent=1, allow_nan=False)
    (folder / "summary.json").write_text(text + "\n", encoding="utf-8")
    (folder / "case.yaml").write_text(case_file.source.text, encoding="utf-8")
    units = {key: _unit(key)[0] for key in table.keys}
    heading = {"name": "-", **units, "within_limits": "-", "missed": "-"}
    answers = {name: unit for name, (unit, *_) in _ANSWERS.items()}
    columns = heading | answers | {"problem": "-"}
    write_table(folder / "variants.csv", columns, _rows(table.keys, summary["variants"]))


def _rows(
    keys: Sequence[str], variants: Iterable[Mapping[str, Any]]
) -> Iterable[Sequence[object]]:
    for one in variants:
        changed = [_scaled(one["inputs"].get(key, ""), _unit(key)[1]) for key in keys]
        if "problems" in one:
            blank = [""] * (2 + len(_ANSWERS))
            yield one["name"], *changed, *blank, " / ".join(one["problems"])
            continue
        within = "yes" if one["within_limits"] else "no"
        answers = [_scaled(_at(one, path), factor) for _, factor, path in _ANSWERS.values()]
        yield one["name"], *changed, within, ", ".join(one["missed"]), *answers, ""


def _unit(key: str) -> tuple[str, float]:
    """Unit that a column of inputs has, and what turns SI into it."""
    kind = kind_at(key)
    if kind in ("", "fit"):
        return "-", 1.0
    return _SHOP.get(kind, (SI_UNIT.get(kind, "-"), 1.0))


def _scaled(value: float | str, factor: float) -> float | str:
    return value if isinstance(value, str) else value * factor


def _at(found: Any, path: tuple[str, ...]) -> Any:
    for part in path:
        found = found[part]
    return found
