"""Strength and holding as plain data for `summary.json`, SI, every key with its unit."""

from __future__ import annotations

from dataclasses import asdict
from math import isfinite
from typing import TYPE_CHECKING, Any

from .holding import Drive, Holding, ScrewHold
from .judge import Band
from .strength import Cycle, Fatigue, Strength

if TYPE_CHECKING:
    from .peak import HoleStress
    from .units import Estimate


def strength_summary(strength: Strength, solid: HoleStress | None) -> dict[str, Any]:
    """Stress at the hole and its margins; the solid's own peak where there is one."""
    raiser = strength.raiser
    found: dict[str, Any] = {
        "stress_nominal_Pa": strength.nominal,
        "stress_nominal_net_Pa": strength.net,
        "stress_peak_Pa": strength.peak.likely,
        "stress_peak_by_factors_Pa": _band(strength.peak),
        "stress_peak_from": "published or tabled factors, peaks added",
        "stress_peak_at": raiser.place,
        "factors": {
            "source": raiser.source,
            **{end: asdict(getattr(raiser, end)) for end in ("low", "likely", "high")},
        },
        "yield_strength_Pa": strength.yield_strength,
        "yield_margin": _band(strength.yield_margin),
        "moment_bit_plane_Nm": strength.load.bend_bit,
        "moment_across_Nm": strength.load.bend_across,
        "torque_Nm": strength.load.torque,
        "sag_moment_Nm": strength.sag_moment,
        "misalignment_moment_Nm": _band(strength.misalignment_moment),
    }
    if solid is not None:
        found |= _by_solid(solid)
    return found if strength.fatigue is None else found | _fatigue(strength.fatigue)


def _by_solid(solid: HoleStress) -> dict[str, Any]:
    """Peak by the solid of the bar, its band, and how its meshes ran together."""
    peak = solid.peak
    return {
        "stress_peak_Pa": peak.value,
        "stress_peak_from": "solid",
        "stress_peak_by_solid_Pa": {
            "low": peak.value * (1 - peak.error),
            "likely": peak.value,
            "high": peak.value * (1 + peak.error),
        },
        "stress_peak_by_mesh_Pa": list(peak.by_mesh),
        "stress_observed_order": "none" if peak.order is None else peak.order,
        "stress_pull_on_free_wall_ratio": peak.off_wall,
        "stress_peak_place_m": list(peak.place),
        "stress_corner_radius_taken_m": "none"
        if solid.corner_taken is None
        else solid.corner_taken,
    }


def _fatigue(fatigue: Fatigue) -> dict[str, Any]:
    strength = fatigue.strength
    return {
        "fatigue_margin": _band(fatigue.margin),
        "fatigue_at": fatigue.place,
        "fatigue_cycles": [_cycle(cycle) for cycle in fatigue.cycles],
        "endurance_Pa": strength.endurance,
        "endurance_factors": {
            "smooth_Pa": strength.smooth,
            "surface": strength.surface,
            "size": strength.size,
            "reliability": strength.reliability,
            "notch_sensitivity": strength.notch_sensitivity,
        },
    }


def _cycle(cycle: Cycle) -> dict[str, Any]:
    return {
        "name": cycle.name,
        "steady_Pa": cycle.steady,
        "alternating_Pa": cycle.alternating,
        "margin": _number(cycle.margin),
    }


def holding_summary(holding: Holding) -> dict[str, Any]:
    """What holds bit and bar; a part that the case has not is left out."""
    shortest, longest = holding.bit_window
    found: dict[str, Any] = {
        "push_back_N": _band(holding.push_back),
        "bit_stress_Pa": holding.bit_stress,
        "bit_give_m": holding.bit_give,
        "bit_margin": _band(holding.bit_margin),
        "bit_length_shortest_m": shortest,
        "bit_length_longest_m": longest,
        "slot_offset_wanted_m": holding.slot_offset_wanted,
        "screw_head_room_m": holding.room,
        "screws": [_screw(screw) for screw in holding.screws],
        "screws_not_in_table_m": list(holding.unknown_screws),
        "motor_power_W": _band(holding.motor_power),
    }
    if holding.hold_margin is not None:
        found["screw_hold_margin"] = _band(holding.hold_margin)
    if holding.tail_thrust is not None:
        found["tail_thrust_N"] = holding.tail_thrust
    return found if holding.drive is None else found | {"drive": _drive(holding.drive)}


def _screw(screw: ScrewHold) -> dict[str, Any]:
    return {
        "name": screw.thread.name,
        "torque_Nm": float(screw.torque),
        "seating_torque_Nm": float(screw.thread.torque),
        "preload_N": _estimate(screw.preload),
        "hold_standing_N": _estimate(screw.hold),
        "thread_engaged_m": screw.engaged,
        "strips_at_N": screw.strips_at,
        "strips_at_torque_Nm": screw.stripping_torque,
        "strips_in_mild_steel_N": screw.strips_in_mild_steel,
        "strip_margin": screw.strip_margin,
        "source": screw.thread.printed,
    }


def _drive(drive: Drive) -> dict[str, Any]:
    if drive.grip is None:
        return {"kind": drive.kind, "pin_load_N": _band(drive.asked)}
    found = {"kind": drive.kind, "friction_asked_N": _band(drive.asked)}
    found["friction_borne_N"] = _band(drive.grip)
    return found if drive.margin is None else found | {"grip_margin": _band(drive.margin)}


def _band(band: Band) -> dict[str, float | str]:
    return {
        "low": _number(band.low),
        "likely": _number(band.likely),
        "high": _number(band.high),
    }


def _estimate(value: Estimate) -> dict[str, float]:
    return {"low": value.low, "likely": float(value), "high": value.high}


def _number(value: float) -> float | str:
    """A number that JSON can hold; a limit that does not exist is the word `none`."""
    return value if isfinite(value) else "none"
