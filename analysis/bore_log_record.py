"""What a bore log tells, as plain data in SI and as a row for the case."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from .bore_log import BoreLog, Learnt
from .case import Case
from .casefile import CaseFile
from .fit_record import band
from .measured_rows import MeasuredRow
from .provenance import provenance
from .units import Estimate, show


def learnt_summary(case_file: CaseFile, found: BoreLog, learnt: Learnt) -> dict[str, Any]:
    """What was learnt as plain data, SI, every key with its unit."""
    summary: dict[str, Any] = {
        **provenance("barwright.log/1", case_file),
        "short_fall_per_depth_before": band(learnt.ratio_before),
        "short_fall_per_depth": band(learnt.ratio),
        "settings_cut_large_by_m": band(learnt.zero),
        "force_over_what_was_thought": band(learnt.force_factor),
        "passes": [
            {
                "setting_m": float(setting),
                "bore_m": float(bore),
                "expected_before_m": float(expected),
                "left_m": float(left),
            }
            for setting, bore, expected, left in zip(
                found.setting, found.bore, learnt.expected_before, learnt.left, strict=True
            )
        ],
    }
    stray = learnt.stray
    summary["farthest_off"] = {
        "pass": stray.number,
        "off_m": stray.off,
        "likely_m": stray.likely,
        "ranges_widened_by": stray.widens,
    }
    if learnt.next_pass is not None:
        summary["next_pass"] = {
            "reading_m": learnt.next_pass.reading,
            "bore_m": asdict(learnt.next_pass.bore),
            "same_again_m": asdict(learnt.next_pass.same_again),
            "depth_m": learnt.next_pass.depth,
            "cuts_left": learnt.next_pass.cuts,
            "cuts_end_at_m": learnt.next_pass.ends_at,
        }
    return summary


def wear_row(case: Case, learnt: Learnt, date: str) -> MeasuredRow:
    """Row that brings the case's cutting force to what the bores say.

    It goes by the edge's wear, the factor on the force that differs from edge to edge.
    """
    wear, factor = float(case.cut.edge_wear), learnt.force_factor
    moved = Estimate(*(_three_digits(wear * f) for f in (factor, factor.low, factor.high)))
    return MeasuredRow(
        what="cut.edge_wear", value=show(moved, "ratio"), date=date, how="bores measured"
    )


def _three_digits(value: float) -> float:
    return float(f"{value:.3g}")
