"""What `study` leaves: bands, chances and drivers as JSON in SI, tables with a row of units."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from math import isfinite
from pathlib import Path
from typing import Any

import numpy as np

from .casefile import CaseFile
from .doubt import TAIL
from .inputs import SI_UNIT
from .provenance import provenance
from .record import write_table
from .sensitivity import LEVEL
from .study import DRIVEN, QUANTILES, Driver, Spread, Study, swept
from .study_words import ANSWERS, learnt_by, said
from .trial import NAMES

SCHEMA = "barwright.study/1"
UNITS = {
    "deflection": "m",
    "size_error": "m",
    "first_mode": "Hz",
    "gain_margin": "",
    "undamped_margin": "",
    "depth_limit": "m",
    "separation": "",
}
_SHOWN = {"m": ("um", 1e6), "Hz": ("Hz", 1.0), "": ("-", 1.0)}
BINS = 40


def study_summary(case_file: CaseFile, found: Study) -> dict[str, Any]:
    """The study as plain data, SI, every key with its unit."""
    case = found.case
    return {
        **provenance(SCHEMA, case_file),
        "draws": found.count,
        "seed": found.seed,
        "quantiles": list(QUANTILES),
        "range_end_tail": TAIL,
        "bands": {
            _with_unit(name): {
                **_spread(name, found.spread[name]),
                "half_of_the_draws": _spread(name, found.half[name]),
            }
            for name in NAMES
        },
        "chatter_at_planned_cut": asdict(found.chatter),
        "chatter_without_process_damping": asdict(found.chatter_undamped),
        "misses_limit": {name: asdict(chance) for name, chance in found.misses.items()},
        "limits": {
            "size_error_m": case.allowed_size_error,
            "gain_margin": float(case.limits.chatter_margin),
            "separation": float(case.limits.separation),
        },
        "within_limits": found.within_limits,
        "drivers": {
            "design_points": found.design,
            "interval": LEVEL,
            "values": [_driver(found, one) for one in found.drivers],
        },
        "histograms": {_with_unit(name): _histogram(found, name) for name in DRIVEN},
    }


def _with_unit(name: str) -> str:
    return f"{name}_{UNITS[name]}" if UNITS[name] else name


def _number(name: str, value: float) -> float | str:
    """A number that JSON can hold; what does not exist is a word."""
    if name == "depth_limit" and value == 0.0:
        return "no usable depth"
    return float(value) if isfinite(value) else "none"


def _spread(name: str, spread: Spread) -> dict[str, float | str]:
    return {part: _number(name, getattr(spread, part)) for part in ("low", "middle", "high")}


def _driver(found: Study, one: Driver) -> dict[str, Any]:
    doubt = one.doubt
    unit = SI_UNIT.get(doubt.kind, "")
    return {
        "name": doubt.name,
        "what": said(found.case, doubt.key),
        "origin": doubt.origin,
        "kind": doubt.kind,
        "unit": unit,
        "low": doubt.low,
        "likely": doubt.likely,
        "high": doubt.high,
        "learnt_by": learnt_by(found.case, doubt),
        **{
            name: {
                "first_order": asdict(one.influence[name].first),
                "total": asdict(one.influence[name].total),
                "if_known": {
                    "band_factor_now": one.known[name].now,
                    "band_factor_then": one.known[name].then,
                    "narrowing": one.known[name].narrowing,
                },
            }
            for name in DRIVEN
        },
    }


def _histogram(found: Study, name: str) -> dict[str, Any]:
    """Counts of draws over equal factors between the first and last hundredth."""
    values = getattr(found.answers, name)
    finite = values[np.isfinite(values) & (values > 0.0)]
    if not finite.size:
        return {"edges": [], "draws": []}
    low, high = np.quantile(finite, [0.01, 0.99])
    edges = np.geomspace(low, max(high, 1.0001 * low), BINS + 1)
    return {
        "edges": edges.tolist(),
        "draws": np.histogram(finite, edges)[0].tolist(),
        "below": int((values < edges[0]).sum()),
        "above": int((values > edges[-1]).sum()),
    }


def write_study(folder: Path, case_file: CaseFile, found: Study) -> dict[str, Any]:
    """Write `study.json`, `bands.csv`, `drivers.csv` and `draws.csv`, and give the first back.

    Raises
    ------
    OSError
        A file could not be written; the caller throws the folder away.
    """
    summary = study_summary(case_file, found)
    text = json.dumps(summary, indent=1, allow_nan=False)
    (folder / "study.json").write_text(text + "\n", encoding="utf-8")
    bands = dict.fromkeys(("answer", "unit", "low", "middle", "high"), "-")
    write_table(folder / "bands.csv", bands | {"half_low": "-", "half_high": "-"}, _bands(found))
    drivers = dict.fromkeys(("value", "origin", "unit", "low", "likely", "high"), "-")
    for name in DRIVEN:
        drivers |= {f"{name}_{part}": "-" for part in ("first_order", "total", "narrowing")}
    write_table(folder / "drivers.csv", drivers, _drivers(summary))
    write_table(folder / "draws.csv", *_draws(found))
    return summary


def _bands(found: Study) -> Iterable[Sequence[object]]:
    for name in NAMES:
        unit, factor = _SHOWN[UNITS[name]]
        ends = found.spread[name], found.half[name]
        values = [
            ends[0].low,
            ends[0].middle,
            ends[0].high,
            ends[1].low,
            ends[1].high,
        ]
        yield (ANSWERS[name], unit, *(_scaled(name, value, factor) for value in values))


def _scaled(name: str, value: float, factor: float) -> float | str:
    number = _number(name, value)
    return number if isinstance(number, str) else number * factor


def _drivers(summary: Mapping[str, Any]) -> Iterable[Sequence[object]]:
    for one in summary["drivers"]["values"]:
        parts = [
            (
                one[name]["first_order"]["value"],
                one[name]["total"]["value"],
                one[name]["if_known"]["narrowing"],
            )
            for name in DRIVEN
        ]
        row = (one[key] for key in ("name", "origin", "unit", "low", "likely", "high"))
        yield (*row, *(value for part in parts for value in part))


def _draws(found: Study) -> tuple[dict[str, str], Iterable[Sequence[object]]]:
    """Every draw: the values and what came out, six digits."""
    values = swept(found)
    columns = {doubt.name: SI_UNIT.get(doubt.kind, "-") for doubt in values}
    columns |= {name: _SHOWN[UNITS[name]][0] for name in NAMES}
    answers = [
        [_scaled(name, value, _SHOWN[UNITS[name]][1]) for value in getattr(found.answers, name)]
        for name in NAMES
    ]
    every = zip(*(column.tolist() for column in values.values()), *answers, strict=True)
    rows = ([_six(cell) for cell in row] for row in every)
    return columns, rows


def _six(cell: float | str) -> str:
    return cell if isinstance(cell, str) else f"{cell:.6g}"
