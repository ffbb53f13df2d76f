"""Findings: margins, the right side of a limit, bands, and what each limit is held against."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import inf

import numpy as np
import pytest
import references as ref
from conftest import MakeCase
from late_runs import late_run

from barwright.analysis import chatter
from barwright.analysis.case import Case
from barwright.analysis.chatter import End
from barwright.analysis.force import cutting_force
from barwright.analysis.judge import Band, Finding, at_least, at_most, judge
from barwright.analysis.run import analyse
from barwright.analysis.speeds import Shake, SpeedCheck
from barwright.analysis.statics import Share, Statics


@dataclass(frozen=True, slots=True)
class Loop:
    """Chatter as a verdict sees it."""

    margin: Mapping[End, float] = field(
        default_factory=lambda: {"low": 0.5, "likely": 1.5, "high": 4.0}
    )
    reason: str = "so it is"


def judged(case: Case, *, error: float = -4e-6) -> dict[str, Finding]:
    """Every finding of a case by its first word, its results given and not solved."""
    statics = Statics(
        compliance=np.zeros((3, 3)),
        loop_compliance=np.eye(3),
        deflection=np.zeros(3),
        diameter_error=error,
        ovality=3e-6,
        sag=2e-6,
        reactions=(),
        give=(
            Share(part="bar", compliance=2e-8, share=0.25),
            Share(part="tail support", compliance=6e-8, share=0.75),
        ),
        along=np.zeros((6, 1)),
        motion=np.zeros(1),
        unbalanced=0.0,
    )
    gear = Shake(source="gear", order=None, frequency=80.0, mode=100.0, separation=0.2)
    speed = SpeedCheck(
        spindle_speed=2.0,
        waves_per_turn=50.0,
        shakes=(gear,),
        verdict="clear",
        reason="the gear is far off",
    )
    band = Band(low=2e-6, likely=4e-6, high=6e-6)
    found = judge(case, cutting_force(case), statics, speed, Loop(), band)
    return {one.what: one for one in found}


def test_margin_is_one_at_the_limit_from_either_side() -> None:
    assert at_most("x", 2.0, 2.0, "length", "").margin == 1.0
    assert at_least("x", 2.0, 2.0, "share", "").margin == 1.0


def test_margin_says_how_many_times_over_a_limit_is_met() -> None:
    assert at_most("x", 0.5, 2.0, "length", "why") == Finding(
        what="x", value=0.5, limit=2.0, kind="length", margin=4.0, ok=True, why="why"
    )
    assert at_least("x", 0.5, 2.0, "share", "why") == Finding(
        what="x", value=0.5, limit=2.0, kind="share", margin=0.25, ok=False, why="why"
    )


@pytest.mark.parametrize(("value", "ok"), [(1.0, True), (2.0, True), (2.1, False)])
def test_at_most_holds_up_to_its_limit(value: float, ok: bool) -> None:
    found = at_most("x", value, 2.0, "length", "")
    assert (found.ok, found.margin >= 1.0) == (ok, ok)


@pytest.mark.parametrize(("value", "ok"), [(3.0, True), (2.0, True), (1.9, False)])
def test_at_least_holds_down_to_its_limit(value: float, ok: bool) -> None:
    found = at_least("x", value, 2.0, "share", "")
    assert (found.ok, found.margin >= 1.0) == (ok, ok)


def test_nothing_to_hold_has_a_margin_without_end() -> None:
    assert at_most("x", 0.0, 2.0, "length", "").margin == inf
    assert at_least("x", 2.0, 0.0, "share", "").margin == inf


def test_band_holds_every_value() -> None:
    assert Band.of(2.0, 3.0, 1.0) == Band(low=1.0, likely=2.0, high=3.0)
    assert Band.of(2.0) == Band(low=2.0, likely=2.0, high=2.0)


def test_every_limit_is_held_against_its_own_result(make_case: MakeCase) -> None:
    """Left out, the limit of size is half the bore's 40 um, that of ovality half of this.

    The edge takes 80 N at a bore of 50 mm and 2 turns a second.
    """
    limits = {"separation": "10 %", "chatter_margin": 1.2, "sag": "8 um", "hole_share": "40 %"}
    case = make_case(limits=limits, lathe={"power": "0.5 kW"})
    found = judged(case)
    numbers = [(one.kind, one.value, one.limit) for one in found.values()]
    power = 80.0 * np.pi * 0.050 * 2
    assert numbers == [
        ("length", pytest.approx(4e-6), pytest.approx(20e-6)),
        ("length", 3e-6, pytest.approx(10e-6)),
        ("share", 0.2, pytest.approx(0.1)),
        ("ratio", 1.5, 1.2),
        ("length", 2e-6, pytest.approx(8e-6)),
        ("share", pytest.approx(8 / 30), pytest.approx(0.4)),
        ("power", pytest.approx(power), 500.0),
    ]
    margins = [one.margin for one in found.values()]
    assert margins == pytest.approx([5, 10 / 3, 2, 1.25, 4, 1.5, 500 / power])
    assert all(one.ok for one in found.values())
    assert found["gain margin against chatter"].why.startswith("0.5 to 4, ")
    assert found["gain margin against chatter"].why.endswith("so it is")
    assert found["distance from the nearest shake to a mode"].why == "the gear is far off"
    assert found["power at the edge"].limit == 500.0
    assert "power at the edge" not in judged(make_case())


@pytest.mark.parametrize(
    ("limits", "missed"),
    [
        ({"size_error": "3.9 um", "ovality": "9 um"}, "size error of the bore"),
        ({"ovality": "2.9 um"}, "bore out of round"),
        ({"separation": "21 %"}, "distance from the nearest shake to a mode"),
        ({"chatter_margin": 1.6}, "gain margin against chatter"),
        ({"sag": "1.9 um"}, "sag of the bar at the bit"),
        ({"hole_share": "26 %"}, "cross-hole across the bar's diameter"),
    ],
)
def test_a_limit_just_missed_is_the_only_one(
    make_case: MakeCase, limits: dict[str, object], missed: str
) -> None:
    found = judged(make_case(limits=limits))
    assert [one.what for one in found.values() if not one.ok] == [missed]


@pytest.mark.parametrize(
    ("error", "springs", "way"),
    [
        (-4e-6, "springs off", "small"),
        (0.0, "springs off", "small"),
        (4e-6, "is pulled into", "large"),
    ],
)
def test_size_says_which_way_the_bar_goes_and_where_it_gives(
    make_case: MakeCase, error: float, springs: str, way: str
) -> None:
    size = judged(make_case(), error=error)["size error of the bore"]
    assert size.value == abs(error)
    assert f"the bar {springs} the cut and the bore comes out {way} by 2 to 6 um (" in size.why
    assert "the same all along it" in size.why
    assert "in the tail support (75%)" in size.why


def test_what_the_hole_leaves_of_the_bar_is_the_integral_over_what_is_left(
    make_case: MakeCase,
) -> None:
    """8 mm square in 30 mm, one side of it through the bar's middle: t from -8 mm to 0."""
    R = 0.015

    def strip(t: float) -> tuple[float, float]:
        chord = (R**2 - t**2) ** 0.5
        return (0.0, 0.0) if -0.008 < t < 0 else (-chord, chord)

    left = ref.integrated_section(R, strip, (-R, -0.008, 0.0, R)).r_squared
    why = judged(make_case())["cross-hole across the bar's diameter"].why
    assert f"{left / (np.pi * R**4 / 4):.0%} of the bar's bending stiffness is left" in why


def test_hole_in_a_step_is_held_against_the_step(make_case: MakeCase) -> None:
    step = {"start": "150 mm", "end": "250 mm", "diameter": "40 mm"}
    found = judged(make_case(bar__steps=[step]))["cross-hole across the bar's diameter"]
    assert found.value == pytest.approx(8 / 40)


DRIVE = {"supports__drive__vertical_stiffness": "30 N/um"}
TAIL = {"supports__tail__vertical_stiffness": "10 N/um"}
STEADY = {
    "supports__others": [
        {
            "kind": "steady",
            "position": "300 mm",
            "vertical_stiffness": "30 N/um",
            "horizontal_stiffness": "10 N/um",
        }
    ]
}
WORK = {"work__horizontal_stiffness": "10 N/um"}


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (
            {},
            "supports and work side are all taken as alike up-and-down and sideways: push each "
            "both ways to be sure",
        ),
        (
            TAIL,
            "the tail support gives more one way than the other while the force turns; the work "
            "side is taken as alike both ways",
        ),
        (
            STEADY,
            "the steady gives more one way than the other while the force turns; the work side is "
            "taken as alike both ways",
        ),
        (WORK, "the work side gives more one way than the other while the force turns"),
        (
            TAIL | WORK,
            "the tail support and the work side give more one way than the other while the force "
            "turns",
        ),
        (
            DRIVE | TAIL | WORK,
            "the drive support, the tail support and the work side give more one way than the "
            "other while the force turns",
        ),
    ],
)
def test_out_of_round_names_what_gives_more_one_way(
    make_case: MakeCase, changes: dict[str, object], words: str
) -> None:
    why = judged(make_case(**changes))["bore out of round"].why
    assert why == words


@pytest.fixture
def few_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    """Look for limits of depth, nose and feed in few steps: no verdict hangs on where they lie."""
    monkeypatch.setattr(chatter, "STEPS", 4)


def test_no_force_at_all_is_no_error(make_case: MakeCase, few_steps: None) -> None:
    nothing = {"radial": "0 N", "tangential": "0 N", "axial": "0 N"}
    outcome = analyse(make_case(cut__force=nothing))
    assert outcome.size_error == Band(low=0.0, likely=0.0, high=0.0)
    assert outcome.passes.copied.likely == 0.0


def test_edge_that_pulls_itself_in_runs_and_says_large(
    make_case: MakeCase, few_steps: None
) -> None:
    case = make_case(
        cut__force=None, cut__depth="1 mm", bit__lead_angle="-40 deg", bit__nose_radius="0.1 mm"
    )
    found = late_run(case).findings
    size = next(one for one in found if one.what.startswith("size"))
    assert "is pulled into the cut and the bore comes out large by" in size.why
