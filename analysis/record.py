"""What a run leaves in its results folder, so that drawing and reading need no solving.

``summary.json`` in SI, every key with its unit; CSV tables with a row of units; ``fields.vtu``
with the deflection and the modes on the bar; and the case itself, word for word. Nothing in
them names the machine or its folders.
"""

from __future__ import annotations

import csv
import itertools
import json
from collections.abc import Iterable, Sequence
from math import isfinite, isinf, pi
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from .behaviour_record import behaviour_summary
from .case import Case
from .casefile import CaseFile
from .hole_in_beam import block_of
from .judge import Band, Finding
from .loop_curves import curve_tables
from .model import Floats
from .passes import Pass
from .provenance import provenance
from .run import Outcome
from .setup_checks import setup_checks
from .speed_summary import judged_speeds
from .strength_record import holding_summary, strength_summary
from .sung_by import SungBy, sung_by_words
from .trouble import troubles
from .trouble_record import checks_summary, troubles_summary

if TYPE_CHECKING:
    from .witness import Witness

SCHEMA = "barwright.summary/1"
RING = 24


def summary(case_file: CaseFile, outcome: Outcome) -> dict[str, Any]:
    """The summary of a run as plain data, keys as the contract has them."""
    return {
        **provenance(SCHEMA, case_file),
        "model": _model(outcome),
        "cut": _cut(outcome),
        "static": _static(outcome),
        "modes": _modes(outcome),
        "speed": _speed(outcome),
        "speeds": judged_speeds(outcome.speeds),
        "chatter": _chatter(outcome),
        "passes": _passes(outcome),
        "strength": strength_summary(outcome.strength, outcome.hole_stress),
        "holding": holding_summary(outcome.holding),
        "behaviour": behaviour_summary(outcome),
        **_history(outcome),
        "findings": [_finding(finding) for finding in outcome.findings],
        "setup_checks": checks_summary(setup_checks(outcome.case, outcome), outcome.case.own),
        "trouble": troubles_summary(troubles(outcome.case, outcome)),
        "within_limits": outcome.within_limits,
        "inputs": inputs(case_file),
    }


def inputs(case_file: CaseFile) -> list[dict[str, Any]]:
    """Every value of a case with its unit, origin and range, as plain data."""
    return [_input(entry) for entry in case_file.inputs]


def _model(outcome: Outcome) -> dict[str, Any]:
    change = outcome.refinement
    return {
        "kind": outcome.model.kind,
        "n_dof": outcome.model.n_dof,
        "coarse_n_dof": change.coarse_n_dof,
        "cross_hole": _hole_way(outcome),
        "refinement_change": {"deflection": change.deflection, "first_mode": change.first_mode},
        "unbalanced": outcome.statics.unbalanced,
    }


def _hole_way(outcome: Outcome) -> str:
    """How the hole's weakening got into the model."""
    if outcome.model.kind == "solid":
        return "meshed"
    return "solved" if block_of(outcome.case) else "table"


def _cut(outcome: Outcome) -> dict[str, Any]:
    force = outcome.force
    found: dict[str, Any] = {"origin": force.origin}
    for name in ("radial", "tangential", "axial"):
        part = getattr(force, name)
        found[f"force_{name}_N"] = float(part)
        found[f"force_{name}_range_N"] = [part.low, part.high]
    found |= {"power_W": force.power, "torque_Nm": force.torque}
    if force.specific_force is not None:
        found["specific_force_Pa"] = force.specific_force
    found["method"] = force.method
    found["factors"] = [
        {
            "name": factor.name,
            "value": float(factor.value),
            "range": [factor.value.low, factor.value.high],
            "parts": factor.parts,
            "source": factor.source,
        }
        for factor in force.factors
    ]
    found["other_methods"] = [
        {
            "name": other.name,
            "force_tangential_N": float(other.tangential),
            "force_tangential_range_N": [other.tangential.low, other.tangential.high],
            "source": other.source,
        }
        for other in force.other_methods
    ]
    return found


def _static(outcome: Outcome) -> dict[str, Any]:
    statics, hand, band = outcome.statics, outcome.hand, outcome.size_error
    radial = -float(outcome.force.radial)
    return {
        "deflection_radial_m": float(statics.deflection[0]),
        "deflection_tangential_m": float(statics.deflection[1]),
        "deflection_axial_m": float(statics.deflection[2]),
        "stiffness_radial_N_per_m": statics.stiffness_radial,
        "stiffness_tangential_N_per_m": statics.stiffness_tangential,
        "bar_stiffness_radial_N_per_m": float(1 / statics.compliance[0, 0]),
        "bore_diameter_error_m": statics.diameter_error,
        "bore_diameter_error_size_m": {
            "low": band.low,
            "likely": band.likely,
            "high": band.high,
        },
        "ovality_m": statics.ovality,
        "sag_m": statics.sag,
        "give": [
            {"part": give.part, "share": give.share, "compliance_m_per_N": give.compliance}
            for give in statics.give
        ],
        "reactions": [
            {
                "support": reaction.support,
                "radial_N": reaction.radial,
                "tangential_N": reaction.tangential,
                "axial_N": reaction.axial,
                "moment_Nm": reaction.moment,
                "torque_Nm": reaction.torque,
            }
            for reaction in statics.reactions
        ],
        "hand_check": {
            "formula": hand.formula,
            "value_m": hand.compliance * radial,
            "compliance_m_per_N": hand.compliance,
            "difference": hand.difference,
        },
    }


def _modes(outcome: Outcome) -> list[dict[str, Any]]:
    modes = outcome.modes
    rows = zip(
        modes.frequency, modes.plane, modes.purity, modes.residual, modes.damping, strict=True
    )
    return [
        {
            "frequency_Hz": float(frequency),
            "plane": plane,
            "purity": float(purity),
            "residual": float(residual),
            "support_damping_ratio": float(damping),
        }
        for frequency, plane, purity, residual, damping in rows
    ]


def _speed(outcome: Outcome) -> dict[str, Any]:
    speed, whirl, band = outcome.speed, outcome.whirl, outcome.first_mode
    nearest = speed.nearest
    return {
        "spindle_rpm": speed.spindle_speed * 60,
        "surface_speed_m_per_s": outcome.case.surface_speed,
        "first_critical_rpm": whirl.first_critical * 60,
        "whirl": [
            {"spindle_rpm": float(spin) * 60, "frequency_Hz": [float(f) for f in row[:4]]}
            for spin, row in zip(whirl.spin, whirl.frequency, strict=True)
        ],
        "first_mode_Hz": {"low": band.low, "likely": band.likely, "high": band.high},
        "waves_per_turn": speed.waves_per_turn,
        "nearest_harmonic": {
            "order": "none" if nearest.order is None else nearest.order,
            "source": nearest.source,
            "frequency_Hz": nearest.frequency,
            "mode_Hz": nearest.mode,
            "separation": nearest.separation,
        },
        "verdict": speed.verdict,
        "reason": speed.reason,
    }


def _chatter(outcome: Outcome) -> dict[str, Any]:
    chatter = outcome.chatter
    return {
        "gain_margin": {end: _limit(value) for end, value in chatter.margin.items()},
        "gain_margin_still_bar": _limit(chatter.still),
        "gain_margin_without_process_damping": _limit(chatter.bare),
        "depth_limit_m": {end: _limit(value) for end, value in chatter.depth_limit.items()},
        "nose_radius_limit_m": _limit(chatter.nose_radius_limit),
        "nose_limit_holds_for": chatter.nose_limit_holds_for,
        "frequency_Hz": _limit(chatter.frequency),
        "sung_by": _sung_by(outcome.sung_by),
        "marks_per_turn": _limit(chatter.marks_per_turn),
        "whirl_feed_limit_m": _limit(chatter.whirl_feed_limit),
        "verdict": chatter.verdict,
        "reason": chatter.reason,
    }


def _sung_by(found: SungBy | None) -> dict[str, Any] | str:
    """The part that sings, with the shares that say so."""
    if found is None:
        return "none"
    return {
        "words": sung_by_words(found),
        "part": found.part,
        "could_be": list(found.others),
        "share_of_loop": dict(found.shares),
        "share_of_swing": dict(found.energy),
    }


def _history(outcome: Outcome) -> dict[str, Any]:
    """The bore cut turn by turn; only where it was asked for."""
    if outcome.history is None:
        return {}
    from .bore_record import history_summary

    return {"history": history_summary(outcome.history)}


def _limit(value: float | str) -> float | str:
    """A limit that JSON can hold: one that does not exist is the word `none`."""
    return value if isinstance(value, str) else value if isfinite(value) else "none"


def _passes(outcome: Outcome) -> dict[str, Any]:
    plan, spring = outcome.passes, outcome.passes.spring
    found: dict[str, Any] = {
        "aim_m": plan.aim,
        "bar_diameter_m": plan.bar_diameter,
        "start_bore": "given" if plan.start_known else "not given: the last two cuts",
        "last_pass_set_from_measured_bore": plan.last_is_measured,
        "short_fall_per_depth": _band(plan.spring_ratio),
        "passes": [_pass(one) for one in plan.passes],
        "spring_passes": {
            "worth_making": spring.worth,
            "taken_off_m": list(spring.recovered),
            "first_opens_bore_by_m": _band(spring.first),
        },
        "error_copied_per_pass": _band(plan.copied),
    }
    if plan.roughing:
        found["roughing"] = [_roughing_pass(outcome.case, one) for one in plan.roughing]
    if plan.roughness is not None:
        expected = plan.roughness.expected
        found["roughness"] = {
            "ideal_peak_to_valley_m": plan.roughness.peak_to_valley,
            "ideal_mean_m": plan.roughness.mean,
            "expected_mean_m": {
                "low": expected.low,
                "likely": float(expected),
                "high": expected.high,
            },
        }
    return found


def _roughing_pass(case: Case, one: Pass) -> dict[str, Any]:
    """A pass before the case's own, with the feed and speed that it has of its own."""
    assert case.roughing is not None
    own = {
        "stage": "roughing",
        "feed_m_per_rev": float(case.roughing.feed),
        "spindle_rpm": 60 * float(case.roughing.speed),
    }
    return _pass(one) | own


def _pass(one: Pass) -> dict[str, Any]:
    found = {
        "number": one.number,
        "bore_before_m": _band(one.bore_before),
        "advance_m": one.advance,
        "micrometer_reading_m": one.reading,
        "depth_m": _band(one.depth),
        "short_fall_m": _band(one.short_fall),
        "bore_m": _band(one.bore),
    }
    return found if one.minutes is None else found | {"minutes": one.minutes}


def _band(band: Band) -> dict[str, float]:
    return {"low": band.low, "likely": band.likely, "high": band.high}


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "what": finding.what,
        "value": finding.value,
        "limit": finding.limit,
        "kind": finding.kind,
        "margin": _limit(finding.margin),
        "ok": finding.ok,
        "why": finding.why,
    }


def _number(value: float) -> float | str:
    """A number that JSON can hold; a rigid support is the word `rigid`."""
    return "rigid" if isinf(value) else float(value)


def _input(entry: Any) -> dict[str, Any]:
    found: dict[str, Any] = {"name": entry.name, "unit": entry.unit, "origin": entry.origin}
    value = entry.value
    found["value"] = _number(value) if isinstance(value, float) else value
    if entry.range is not None:
        found["range"] = [_number(end) for end in entry.range]
    return found


def write_record(folder: Path, case_file: CaseFile, outcome: Outcome) -> dict[str, Any]:
    """Write every file of a run except its pictures into an empty folder; return its summary.

    Raises
    ------
    OSError
        A file could not be written; the caller throws the folder away.
    """
    found = summary(case_file, outcome)
    text = json.dumps(found, indent=1, allow_nan=False)
    (folder / "summary.json").write_text(text + "\n", encoding="utf-8")
    (folder / "case.yaml").write_text(case_file.source.text, encoding="utf-8")
    write_table(folder / "deflection.csv", _DEFLECTION, _deflection_rows(outcome))
    write_table(folder / "modes.csv", _MODES, _mode_rows(outcome))
    write_table(folder / "mode_shapes.csv", _MODE_SHAPES, _mode_shape_rows(outcome))
    write_table(folder / "shakes.csv", _SHAKES, _shake_rows(outcome))
    write_table(folder / "passes.csv", _PASSES, _pass_rows(outcome))
    for name, (columns, rows) in curve_tables(outcome.curves).items():
        write_table(folder / name, columns, rows)
    write_table(folder / "findings.csv", _FINDINGS, _finding_rows(outcome))
    write_table(folder / "inputs.csv", _INPUTS, _input_rows(case_file))
    write_fields(folder / "fields.vtu", outcome)
    if outcome.history is not None:
        _write_history(folder, outcome.history)
    return found


def _write_history(folder: Path, found: Witness) -> None:
    from .bore_record import history_tables, write_bores

    for name, (columns, rows) in history_tables(found).items():
        write_table(folder / name, columns, rows)
    write_bores(folder, found)


_DEFLECTION = {
    "station": "mm",
    "radial": "um",
    "tangential": "um",
    "along": "um",
    "slope_bit": "urad",
    "slope_across": "urad",
    "turn": "urad",
}
_MODES = {
    "number": "-",
    "frequency": "Hz",
    "plane": "-",
    "purity": "-",
    "residual": "-",
    "support_damping": "-",
    "waves_per_turn": "-",
}
_MODE_SHAPES = {
    "number": "-",
    "station": "mm",
    "radial": "-",
    "tangential": "-",
    "along": "-",
    "slope_bit": "1/m",
    "slope_across": "1/m",
    "turn": "1/m",
}
_SHAKES = {"source": "-", "order": "-", "frequency": "Hz", "mode": "Hz", "separation": "-"}
_PASSES = {
    "number": "-",
    "bore_before": "mm",
    "advance": "mm",
    "micrometer_reading": "mm",
    "depth": "mm",
    "short_fall": "um",
    "bore_low": "mm",
    "bore_likely": "mm",
    "bore_high": "mm",
    "time": "min",
}
_FINDINGS = {
    "what": "-",
    "value": "SI",
    "limit": "SI",
    "kind": "-",
    "margin": "-",
    "ok": "-",
    "why": "-",
}
_INPUTS = {"name": "-", "value": "SI", "unit": "-", "origin": "-", "low": "SI", "high": "SI"}


def _safe(cell: object) -> str:
    """Text of a cell; one that a spreadsheet would run as a formula gets a quote before it."""
    if isinstance(cell, float):
        return f"{cell:.9g}"
    text = str(cell)
    runs = text.startswith(("=", "+", "-", "@", "\t", "\r")) and not _is_number(text)
    return "'" + text if runs else text


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def write_table(path: Path, columns: dict[str, str], rows: Iterable[Sequence[object]]) -> None:
    """Write a CSV table with a row of units under its row of names."""
    with path.open("w", encoding="utf-8", newline="") as handle:
        table = csv.writer(handle)
        table.writerow(columns)
        table.writerow(columns.values())
        table.writerows([_safe(cell) for cell in row] for row in rows)


def _deflection_rows(outcome: Outcome) -> Iterable[Sequence[object]]:
    motion = outcome.statics.along * 1e6
    return zip(outcome.model.stations * 1e3, *motion, strict=True)


def _mode_rows(outcome: Outcome) -> Iterable[Sequence[object]]:
    spindle = outcome.speed.spindle_speed
    for number, mode in enumerate(_modes(outcome), start=1):
        frequency = mode["frequency_Hz"]
        yield (
            number,
            frequency,
            mode["plane"],
            mode["purity"],
            mode["residual"],
            mode["support_damping_ratio"],
            frequency / spindle,
        )


def _mode_shape_rows(outcome: Outcome) -> Iterable[Sequence[object]]:
    """Each mode along the bar, 1 where its centre line, or its surface by twisting, moves most."""
    stations = outcome.model.stations
    radius = np.array([outcome.case.bar_diameter(x) / 2 for x in stations])
    for number, along in enumerate(outcome.modes.along, start=1):
        bent, twisted = np.linalg.norm(along[:3], axis=0), radius * np.abs(along[5])
        scaled = along / max(bent.max(), twisted.max())
        for station, motion in zip(stations, scaled.T, strict=True):
            yield number, station * 1e3, *motion


def _shake_rows(outcome: Outcome) -> Iterable[Sequence[object]]:
    for shake in outcome.speed.shakes:
        order = "none" if shake.order is None else shake.order
        yield shake.source, order, shake.frequency, shake.mode, shake.separation


def _pass_rows(outcome: Outcome) -> Iterable[Sequence[object]]:
    for one in outcome.passes.every:
        lengths = (one.bore_before.likely, one.advance, one.reading, one.depth.likely)
        bores = (one.bore.low, one.bore.likely, one.bore.high)
        yield (
            one.number,
            *(length * 1e3 for length in lengths),
            one.short_fall.likely * 1e6,
            *(bore * 1e3 for bore in bores),
            "" if one.minutes is None else one.minutes,
        )


def _finding_rows(outcome: Outcome) -> Iterable[Sequence[object]]:
    for one in outcome.findings:
        ok = "yes" if one.ok else "no"
        yield one.what, one.value, one.limit, one.kind, one.margin, ok, one.why


def _input_rows(case_file: CaseFile) -> Iterable[Sequence[object]]:
    for entry in case_file.inputs:
        low, high = entry.range or ("", "")
        yield entry.name, entry.value, entry.unit, entry.origin, low, high


def write_fields(path: Path, outcome: Outcome) -> None:
    """Write deflection (m) and mode shapes (largest motion 1) on the bar's body as VTU."""
    import meshio

    if outcome.model.kind == "beam":
        points, cells, fields = beam_body(outcome)
    else:
        from .solid import solid_body

        points, cells, fields = solid_body(outcome.case, outcome.statics, outcome.modes)
    meshio.Mesh(points, cells, point_data=fields).write(path, binary=True)


def beam_body(
    outcome: Outcome,
) -> tuple[Floats, list[tuple[str, np.ndarray[Any, Any]]], dict[str, Floats]]:
    """The beam as a round body of wedges, with its fields, for drawing.

    Returns
    -------
    points : (n_point, 3) m over x, r, t
    cells : one block of wedges
    fields : name to (n_point, 3)
    """
    case, sampled = outcome.case, outcome.model.stations
    station = _body_stations(case)
    radius = np.array([case.bar_diameter(x + nudge) / 2 for x, nudge in station])
    x = np.array([x for x, _ in station])
    turn = np.linspace(0.0, 2 * pi, RING, endpoint=False)
    r = np.concatenate([[0.0], np.cos(turn)])[None, :] * radius[:, None]
    t = np.concatenate([[0.0], np.sin(turn)])[None, :] * radius[:, None]
    points = np.stack([np.broadcast_to(x[:, None], r.shape), r, t], axis=-1).reshape(-1, 3)

    def on_body(along: Floats) -> Floats:
        u_r, u_t, u_x, slope_r, slope_t, phi = (
            np.interp(x, sampled, row)[:, None] for row in along
        )
        motion = (u_x - r * slope_r - t * slope_t, u_r - t * phi, u_t + r * phi)
        return np.asarray(np.stack(np.broadcast_arrays(*motion), axis=-1).reshape(-1, 3))

    fields = {"deflection_m": on_body(outcome.statics.along)}
    for number, along in enumerate(outcome.modes.along, start=1):
        shape = on_body(along)
        fields[f"mode_{number}"] = shape / np.linalg.norm(shape, axis=1).max()
    return points, [("wedge", _wedges(x))], fields


def _body_stations(case: Any) -> list[tuple[float, float]]:
    """Stations of the body, each with a nudge into the piece whose diameter it takes."""
    first, last = case.ends
    cuts = sorted({first, last, *(x for step in case.bar.steps for x in (step.start, step.end))})
    found = []
    for start, end in itertools.pairwise(cuts):
        count = max(2, int(np.ceil(80 * (end - start) / (last - first))) + 1)
        middle = (start + end) / 2
        found += [(x, (middle - x) * 1e-6) for x in np.linspace(start, end, count)]
    return found


def _wedges(x: Floats) -> np.ndarray[Any, Any]:
    """Wedges between neighbouring rings, none where two rings share a station."""
    ring = np.arange(RING)
    after = (ring + 1) % RING
    corner = np.stack([np.zeros(RING, int), 1 + after, 1 + ring], axis=1)
    stride = RING + 1
    filled = np.flatnonzero(np.diff(x) > 1e-9)
    starts = (filled * stride)[:, None, None]
    both = np.concatenate([corner[None] + starts, corner[None] + starts + stride], axis=2)
    return both.reshape(-1, 6)
