"""Curves of the cutting loop about one cut: over frequency, spindle speed, nose and lead angle.

What the charts of the loop are drawn from. Everything is at the worst phase of the last turn's
mark, which is the limit at every speed once lobes have merged, except the lobes themselves.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite

import numpy as np

from .case import Case
from .chatter import ENDS, Corner, End, changed, edge_of, frequencies_for
from .compliance import Complexes
from .finish import ideal_roughness
from .lobes import LobeCurve, edge_floors, gain_floors, gain_limits, worst_path
from .model import Floats

N_SPEED = 120
SEEN = 15.0
"""Waves per turn below which each lobe is drawn."""
TOP_SHOWN = 2000.0
NOSES = np.geomspace(5e-5, 3.2e-3, 25)
LEADS = np.radians(np.linspace(0.0, 60.0, 13))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ResponseCurve:
    """The likely loop over frequency.

    Attributes
    ----------
    frequency : (n,) Hz, seen from the bar
    still, turning : (n,) m/N, motion along the bit per force along it
    path, bare_path : (n,) the turning loop at this cut, rubbing counted and not; it sings where
        the real part is below -1/2
    just : (n,) the same of a cut that just sings, rubbing counted; nan where none does
    """

    frequency: Floats
    still: Complexes
    turning: Complexes
    path: Complexes
    bare_path: Complexes
    just: Complexes


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpeedCurve:
    """Gain margin against spindle speed.

    Attributes
    ----------
    lobes : likely limit and floor
    low, high : (n,) floor at the ends of what was guessed
    bare : (n,) likely floor without process damping
    """

    lobes: LobeCurve
    low: Floats
    high: Floats
    bare: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeCurve:
    """Push and margin as one size of the bit's edge changes, everything else as planned.

    Attributes
    ----------
    size : (n,) nose radius, m, or lead angle, rad
    roughness : (n,) m, ideal peak to valley by f^2/8r; nan where the nose does not make it all
    push : (n,) N, likely radial force
    margin : (n,) at the low, likely and high end of what was guessed; inf where none sings
    bare : (n,) likely margin without process damping
    """

    size: Floats
    roughness: Floats
    push: Floats
    margin: Mapping[End, Floats]
    bare: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LoopCurves:
    """Every curve of the loop about one cut."""

    response: ResponseCurve
    speed: SpeedCurve
    nose: EdgeCurve
    lead: EdgeCurve


def loop_curves(case: Case, corners: Mapping[End, Corner]) -> LoopCurves:
    """Curves about the cut of a case, from the corners that `chatter.corners` gives."""
    nose = max(case.bit.nose_radius, NOSES[0])
    noses = np.unique(np.append(NOSES[np.abs(NOSES / nose - 1) > 0.01], nose))
    leads = np.unique(np.append(LEADS, case.bit.lead_angle))
    return LoopCurves(
        response=_response(case, corners["likely"]),
        speed=_over_speed(case, corners),
        nose=_over_edge(case, corners, noses, "nose_radius"),
        lead=_over_edge(case, corners, leads, "lead_angle"),
    )


def _response(case: Case, corner: Corner) -> ResponseCurve:
    given = corner.compliance
    edge, radius, spin = edge_of(case, "likely"), case.edge_radius, case.spindle_speed
    damping = corner.process_damping
    margin = float(gain_floors(given, edge, damping, radius, np.array([spin]))[0])
    frequency = frequencies_for(given, spin)
    near = np.abs(frequency / given.planar.frequency[0] - 1) < 0.15
    keep = (near | (np.arange(frequency.size) % 3 == 0)) & (frequency <= TOP_SHOWN)
    frequency = frequency[keep]

    def path(rubbing: float, gain: float = 1.0) -> Complexes:
        return worst_path(given, edge, rubbing, radius, spin, frequency, gain)

    return ResponseCurve(
        frequency=frequency,
        still=given.at(frequency)[:, 0, 0],
        turning=given.at(frequency, spin)[:, 0, 0],
        path=path(damping),
        bare_path=path(0.0),
        just=path(damping, margin) if isfinite(margin) else np.full(frequency.shape, np.nan + 0j),
    )


def speeds_shown(case: Case, first_mode: float) -> Floats:
    """Speeds that span the lathe's, or a third to three times the cut's, with each of them, Hz.

    Where fewer than 15 waves fit in a turn lobes can be seen: a dozen speeds over each.
    """
    own = (case.spindle_speed, *case.lathe.speeds)
    wide = 1.3 if case.lathe.speeds else 3.0
    low, high = min(own) / wide, max(own) * wide
    waves = np.arange(max(first_mode / high, 0.5), min(SEEN, first_mode / low), 1 / 12)
    speed = np.concatenate([np.geomspace(low, high, N_SPEED), own, first_mode / waves])
    return np.unique(speed[speed <= high])


def _over_speed(case: Case, corners: Mapping[End, Corner]) -> SpeedCurve:
    speed = speeds_shown(case, float(corners["likely"].compliance.planar.frequency[0]))

    # Floors have no lobes: a quarter of the speeds is enough, and a gain of none is inverse 0.
    few = np.unique(np.append(speed[::4], speed[-1]))

    def floor(end: End, *, rubbing: bool = True) -> Floats:
        at = corners[end]
        damping = at.process_damping if rubbing else 0.0
        edge, radius = edge_of(case, end), case.edge_radius
        given = 1.0 / gain_floors(at.compliance, edge, damping, radius, few)
        back = np.interp(np.log(speed), np.log(few), given)
        return np.divide(1.0, back, out=np.full_like(back, np.inf), where=back > 0)

    likely = corners["likely"]
    damping = likely.process_damping
    edge = edge_of(case, "likely")
    return SpeedCurve(
        lobes=gain_limits(likely.compliance, edge, damping, case.edge_radius, speed),
        low=floor("low"),
        high=floor("high"),
        bare=floor("likely", rubbing=False),
    )


def _over_edge(case: Case, corners: Mapping[End, Corner], sizes: Floats, name: str) -> EdgeCurve:
    tried = [changed(case, **{name: float(size)}) for size in sizes]
    edges = {end: [edge_of(each, end) for each in tried] for end in ENDS}

    def floors(end: End, damping: float) -> Floats:
        given = corners[end].compliance
        return edge_floors(given, edges[end], damping, case.edge_radius, case.spindle_speed)

    return EdgeCurve(
        size=sizes,
        roughness=np.array([_roughness(each) for each in tried]),
        push=np.array([float(edge.resultant[0]) for edge in edges["likely"]]),
        margin={end: floors(end, corners[end].process_damping) for end in ENDS},
        bare=floors("likely", 0.0),
    )


def _roughness(case: Case) -> float:
    found = ideal_roughness(case.cut.feed, case.bit.nose_radius)
    return float("nan") if found is None else found.parabola


# --- tables ----------------------------------------------------------------------------------

_RESPONSE = {
    "frequency": "Hz",
    "still_real": "um/N",
    "still_imaginary": "um/N",
    "turning_real": "um/N",
    "turning_imaginary": "um/N",
    "loop_real": "-",
    "loop_imaginary": "-",
    "loop_without_rubbing_real": "-",
    "loop_without_rubbing_imaginary": "-",
    "just_singing_real": "-",
    "just_singing_imaginary": "-",
}
_SPEED = {
    "speed": "rpm",
    "margin": "-",
    "margin_floor": "-",
    "margin_floor_low": "-",
    "margin_floor_high": "-",
    "margin_floor_without_rubbing": "-",
    "frequency": "Hz",
    "waves_per_turn": "-",
}
_MARGINS = {
    "push": "N",
    "margin_low": "-",
    "margin_likely": "-",
    "margin_high": "-",
    "margin_likely_without_rubbing": "-",
}
_NOSE = {"nose_radius": "mm", "ideal_peak_to_valley": "um", **_MARGINS}
_LEAD = {"lead_angle": "deg", **_MARGINS}

Table = tuple[dict[str, str], list[list[float | str]]]


def curve_tables(curves: LoopCurves) -> dict[str, Table]:
    """Files of the curves: columns with their units, and rows; a value there is not is `none`."""
    nose, lead = curves.nose, curves.lead
    return {
        "loop.csv": _table(_RESPONSE, *_response_columns(curves.response)),
        "lobes.csv": _table(_SPEED, *_speed_columns(curves.speed)),
        "nose.csv": _table(_NOSE, 1e3 * nose.size, 1e6 * nose.roughness, *_margins(nose)),
        "lead.csv": _table(_LEAD, np.degrees(lead.size), *_margins(lead)),
    }


def _table(columns: dict[str, str], *values: Floats) -> Table:
    rows = [
        [float(value) if isfinite(value) else "none" for value in row]
        for row in zip(*values, strict=True)
    ]
    return columns, rows


def _response_columns(curve: ResponseCurve) -> list[Floats]:
    moved = (1e6 * curve.still, 1e6 * curve.turning, curve.path, curve.bare_path, curve.just)
    return [curve.frequency, *(part for each in moved for part in (each.real, each.imag))]


def _speed_columns(curve: SpeedCurve) -> list[Floats]:
    lobes = curve.lobes
    floors = (lobes.floor, curve.low, curve.high, curve.bare)
    return [60 * lobes.speed, lobes.limit, *floors, lobes.frequency, lobes.waves_per_turn]


def _margins(curve: EdgeCurve) -> list[Floats]:
    return [curve.push, *(curve.margin[end] for end in ENDS), curve.bare]
