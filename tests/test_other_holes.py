"""Cross-holes that hold no bit: they soften the bar where they stand, in beam and solid alike."""

from __future__ import annotations

from copy import deepcopy
from math import asin, sqrt
from typing import Any

import numpy as np
import pytest
from conftest import PLAIN

from barwright.analysis.beam import bar_segments, beam_model
from barwright.analysis.case import Case, conflicts
from barwright.analysis.casefile import Source, parse_case, write_case
from barwright.analysis.choice import with_span
from barwright.analysis.model import factorised
from barwright.analysis.solid import solid_model
from barwright.analysis.statics import mean_compliance


def _case(*positions: str, **hole: Any) -> Case:
    raw = deepcopy(PLAIN)
    raw["bar"]["other_holes"] = [{"size": "8 mm", "position": p, **hole} for p in positions]
    return Case.model_validate(raw)


def _give(case: Case, *, hole: bool = True) -> float:
    """Give of the bar at the bit along the bit, m/N."""
    return float(mean_compliance(factorised(beam_model(case, hole=hole)))[0, 0])


@pytest.mark.parametrize("position", ["100 mm", "130 mm", "300 mm"])
def test_another_hole_gives_as_the_moment_there_squared(position: str) -> None:
    """By the unit load: a hole's extra give goes with the square of the moment at it.

    Between centres under a load at mid-span the moment at x is ``P x / 2``; the hole under the
    load itself is the unit. Its shear is a few per cent of it, and the same at every place.
    """
    plain = _give(_case())
    own = plain - _give(_case(), hole=False)
    x = float(position.split()[0]) / 1000
    share = (min(x, 0.400 - x) / 0.200) ** 2
    assert _give(_case(position)) - plain == pytest.approx(share * own, rel=0.06)


def test_two_other_holes_add_up() -> None:
    plain = _give(_case())
    one, other = (_give(_case(x)) - plain for x in ("100 mm", "320 mm"))
    assert _give(_case("100 mm", "320 mm")) - plain == pytest.approx(one + other, rel=1e-9)


def test_an_other_hole_is_missing_mass() -> None:
    def mass(case: Case) -> float:
        return sum(piece.mass * (piece.end - piece.start) for piece in bar_segments(case))

    # a hole that reaches from the centre line to 8 mm beside it: chords of a 30 mm round
    chords = 8 * sqrt(15**2 - 8**2) + 15**2 * asin(8 / 15)
    density = float(_case().bar.material.density)
    hole = density * chords * 8 * 1e-9
    assert mass(_case()) - mass(_case("100 mm")) == pytest.approx(hole, rel=1e-6)


@pytest.mark.slow
def test_beam_and_solid_lose_the_same_to_another_hole() -> None:
    gives = [
        [
            float(mean_compliance(factorised(model(case)))[0, 0])
            for case in (_case(), _case("150 mm"))
        ]
        for model in (beam_model, solid_model)
    ]
    beam, solid = (after - before for before, after in gives)
    assert solid == pytest.approx(beam, rel=0.05)


@pytest.mark.parametrize(
    ("position", "hole", "key", "message"),
    [
        ("205 mm", {}, "position", "runs into the one at 200 mm"),
        ("450 mm", {}, "position", "is not on the free length of the bar"),
        ("100 mm", {"size": "20 mm"}, "size", "takes 67% of the 30 mm"),
        ("100 mm", {"offset": "9 mm"}, "offset", "off centre is more than half"),
    ],
)
def test_an_other_hole_that_cannot_be_is_refused(
    position: str, hole: dict[str, str], key: str, message: str
) -> None:
    (found,) = conflicts(_case(position, **hole))
    assert found.key == ("bar", "other_holes", 0, key)
    assert message in found.message


def test_other_holes_keep_their_share_of_another_span() -> None:
    moved = with_span(_case("100 mm"), 0.600)
    assert moved.bar.other_holes[0].position == pytest.approx(0.150)


@pytest.mark.parametrize("system", ["mm", "inch"])
def test_a_case_with_other_holes_is_written_and_read_back(system: Any) -> None:
    case = _case("100 mm", "320 mm")
    text = write_case(case, system)
    read = parse_case(Source(file="c", name="c", text=text, sha256="")).case
    assert read == case
    np.testing.assert_array_equal([hole.position for hole in read.bar.other_holes], [0.100, 0.320])
