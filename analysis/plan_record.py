"""What `plan` leaves: the plan as JSON in SI, the job, and the case of each bit station.

The folder is that of a run of the first case too, so that everything drawn from a run can be
drawn from a plan. Where no set-up is possible it holds the plan and the job alone.
"""

from __future__ import annotations

import json
from importlib.metadata import version
from math import isfinite
from pathlib import Path
from typing import Any

from .bar_choice import JudgedBar, SetUp
from .jobfile import JobFile
from .judge import Band, Finding
from .length_budget import LengthBudget
from .passes import Pass
from .plan import Alternative, Chosen, Plan, PlannedCut, packing_height, why_bar
from .record import write_record
from .swap import folder_name

SCHEMA = "barwright.plan/1"


def plan_summary(job_file: JobFile, plan: Plan) -> dict[str, Any]:
    """The plan as plain data, SI, every key with its unit; what there is none of is absent."""
    work, packing = plan.job.work, packing_height(plan.job)
    found: dict[str, Any] = {
        "schema": SCHEMA,
        "barwright": version("barwright"),
        "job": {
            "title": plan.job.title,
            "file": job_file.source.name,
            "sha256": job_file.source.sha256,
            "bore_m": {
                "nominal": work.bore.nominal,
                "lower": work.bore.lower,
                "upper": work.bore.upper,
            },
            "start_bore_m": float(work.start_bore),
            "lands_m": [float(one) for one in work.lands],
            "gaps_m": [float(one) for one in work.gaps],
        },
        "verdict": verdict(plan),
        "fitness": {"word": plan.verdict.fitness, "why": plan.verdict.why},
        "within_limits": plan.ok,
        "obstacles": list(plan.obstacles),
        "bars": [_bar(plan, one) for one in plan.bars],
    }
    if packing is not None and packing >= 0:
        found["packing_m"] = packing
    if plan.chosen is not None:
        found |= _chosen(plan.chosen, job_file.source.name)
    return found | {"notes": list(plan.notes)}


def verdict(plan: Plan) -> str:
    """The verdict in a few words."""
    if plan.verdict.fitness == "not for a bar":
        return "not a job for a bar"
    if plan.chosen is None:
        return "no set-up fits"
    return "within limits" if plan.ok else "some limit not met"


def _bar(plan: Plan, one: JudgedBar) -> dict[str, Any]:
    return {
        "name": one.name,
        "material": one.bar.material.name,
        "diameter_m": float(one.bar.diameter),
        "length_m": float(one.bar.length),
        "ok": one.ok,
        "why": why_bar(plan, one),
    }


def _chosen(chosen: Chosen, job: str) -> dict[str, Any]:
    set_up, budget = chosen.set_up, chosen.set_up.budget
    case = chosen.outcome.case
    return {
        "bar": chosen.bar,
        "support": set_up.drive,
        "tail": case.supports.tail.kind if case.supports.tail else "none",
        "span_m": budget.span,
        "bar_needed_m": budget.stock,
        "budget": [{"part": one.name, "length_m": float(one.length)} for one in budget.parts],
        "carriage_travel_m": budget.travel,
        "room_between_centres_m": budget.room,
        "collisions": _collisions(budget),
        "bit": {
            "size_m": set_up.bit_size,
            "length_m": set_up.bit_length,
            "projection_m": case.projection,
            "nose_radius_m": float(case.bit.nose_radius),
            "set_screw_m": "none" if set_up.screw is None else set_up.screw,
        },
        "stations": _stations(chosen, job),
        "cuts": [_cut(one) for one in chosen.cuts],
        "passes": [_pass(cut, one) for cut in chosen.cuts for one in cut.passes],
        "minutes": sum(one.minutes or 0.0 for cut in chosen.cuts for one in cut.passes),
        "misses": [_finding(one) | {"stage": stage} for stage, one in chosen.misses],
        "alternatives": [_alternative(one) for one in chosen.alternatives],
    }


def _collisions(budget: LengthBudget) -> list[dict[str, Any]]:
    return [
        {"end": one.end, "between": one.what, "room_m": one.room, "ok": one.ok}
        for one in budget.clearances
    ]


def case_names(chosen: Chosen, job: str) -> dict[int, str]:
    """File of the case of each bit station by its number, from 0; the others bear the job's name.

    Parameters
    ----------
    job : name of the job's file
    """
    first, *others = chosen.numbers
    stem = folder_name(Path(job).stem)
    return {first: "case.yaml"} | {one: f"{stem}-station-{one + 1}.yaml" for one in others}


def _stations(chosen: Chosen, job: str) -> list[dict[str, Any]]:
    names, set_up = case_names(chosen, job), chosen.set_up
    return [
        {
            "lands": one.lands,
            "position_m": one.position,
            "bored_m": one.bored,
            "stiffness_N_per_m": set_up.stiffness[number],
            "case": names[number],
        }
        for number, one in enumerate(set_up.budget.stations)
    ]


def _cut(one: PlannedCut) -> dict[str, Any]:
    return {
        "stage": one.stage,
        "depth_m": float(one.cut.depth),
        "feed_m_per_rev": float(one.cut.feed),
        "spindle_rpm": 60 * one.case.spindle_speed,
        "surface_speed_m_per_s": one.case.surface_speed,
        "passes": len(one.passes),
        "findings": [_finding(each) for each in one.findings],
    }


def _pass(cut: PlannedCut, one: Pass) -> dict[str, Any]:
    found: dict[str, Any] = {
        "number": one.number,
        "stage": cut.stage,
        "feed_m_per_rev": float(cut.cut.feed),
        "spindle_rpm": 60 * cut.case.spindle_speed,
        "bore_before_m": _band(one.bore_before),
        "advance_m": one.advance,
        "micrometer_reading_m": one.reading,
        "depth_m": _band(one.depth),
        "bore_m": _band(one.bore),
    }
    return found if one.minutes is None else found | {"minutes": one.minutes}


def _band(band: Band) -> dict[str, float]:
    return {"low": band.low, "likely": band.likely, "high": band.high}


def _finding(one: Finding) -> dict[str, Any]:
    margin = one.margin if isfinite(one.margin) else "none"
    return {
        "what": one.what,
        "value": one.value,
        "limit": one.limit,
        "kind": one.kind,
        "margin": margin,
        "ok": one.ok,
        "why": one.why,
    }


def _alternative(one: Alternative) -> dict[str, Any]:
    set_up: SetUp = one.set_up
    return {
        "bar": one.bar,
        "support": set_up.drive,
        "stations": len(set_up.budget.stations),
        "span_m": set_up.budget.span,
        "stiffness_N_per_m": set_up.least_stiffness,
        "stiffness_over_that_taken": one.ratio,
    }


def write_plan(folder: Path, job_file: JobFile, plan: Plan) -> dict[str, Any] | None:
    """Write a plan, and the run of its case if there is one, into an empty folder.

    Returns
    -------
    summary : of that run; None where there is none

    Raises
    ------
    OSError
        A file could not be written; the caller throws the folder away.
    """
    text = json.dumps(plan_summary(job_file, plan), indent=1, allow_nan=False)
    (folder / "plan.json").write_text(text + "\n", encoding="utf-8")
    (folder / "job.yaml").write_text(job_file.source.text, encoding="utf-8")
    if plan.chosen is None:
        return None
    names = case_names(plan.chosen, job_file.source.name)
    for number, case_file in zip(plan.chosen.numbers, plan.chosen.cases, strict=True):
        (folder / names[number]).write_text(case_file.source.text, encoding="utf-8")
    return write_record(folder, plan.chosen.cases[0], plan.chosen.outcome)
