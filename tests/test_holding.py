"""What holds bit and bar: hand formulas, practice, and which side lets go."""

from __future__ import annotations

from math import pi, sqrt

import pytest
from conftest import MakeCase

from barwright.analysis.bar import SetScrew
from barwright.analysis.beam import beam_model
from barwright.analysis.case import Case, conflicts
from barwright.analysis.force import cutting_force
from barwright.analysis.holding import (
    Holding,
    bit_window,
    friction_hold,
    holding_findings,
    overhang_stress,
    screw_room,
    solve_holding,
    tail_thrust,
    thread_length,
    thread_of,
    threads,
)
from barwright.analysis.model import factorised
from barwright.analysis.statics import Reaction, solve_statics

POUND_INCH = 4.4482216152605 * 0.0254
M6 = {"diameter": "6 mm"}


def holding_of(case: Case) -> Holding:
    force = cutting_force(case)
    return solve_holding(case, force, solve_statics(case, force, factorised(beam_model(case))))


@pytest.mark.parametrize(
    ("name", "inch", "per_inch", "torque", "hold"),
    [
        ("#10", 0.19, 24, 36, 540),
        ("1/4-20", 0.25, 20, 87, 1000),
        ("5/16-18", 0.3125, 18, 165, 1500),
        ("3/8-16", 0.375, 16, 290, 2000),
        ("1/2-13", 0.5, 13, 620, 3000),
    ],
)
def test_inch_screws_are_what_the_makers_print(
    name: str, inch: float, per_inch: int, torque: float, hold: float
) -> None:
    found = next(one for one in threads() if one.name == name)
    assert found.diameter == pytest.approx(inch * 0.0254, rel=1e-5)
    assert found.pitch == pytest.approx(0.0254 / per_inch, rel=1e-5)
    assert found.torque == pytest.approx(torque * POUND_INCH, rel=1e-3)
    assert found.hold == pytest.approx(hold * 4.4482216, rel=1e-3)


@pytest.mark.parametrize(
    ("diameter", "name"),
    [(0.006, "M6"), (0.008, "M8"), (0.0079375, "5/16-18"), (0.00635, "1/4-20")],
)
def test_screw_is_known_by_its_diameter(diameter: float, name: str) -> None:
    found = thread_of(diameter)
    assert found is not None
    assert found.name == name


def test_screw_that_no_table_has_is_not_judged(make_case: MakeCase) -> None:
    case = make_case(cross_hole__set_screws=[{"diameter": "7 mm"}])
    found = holding_of(case)
    assert thread_of(0.007) is None
    assert found.unknown_screws == (0.007,)
    assert holding_findings(case, found) == ()


def test_a_bit_too_hard_to_bite_is_held_by_less_than_a_soft_shaft() -> None:
    # Two charts for a soft shaft differ 2.5 times; friction alone lies between and below them.
    for thread in threads():
        hold = friction_hold(thread.preload)
        assert hold.low < 0.45 * thread.hold
        assert hold < thread.hold


def test_shaking_leaves_a_quarter_to_an_eighth(make_case: MakeCase) -> None:
    # M6: 7.2 N m over 0.2 x 6 mm is 6000 N, 0.15 at two faces of it; push 30 N.
    found = holding_of(make_case(cross_hole__set_screws=[M6])).hold_margin
    assert found is not None
    assert found.likely == pytest.approx(6000 * 2 * 0.15 / 6 / 30, rel=1e-6)
    assert found.low == pytest.approx(6000 * 2 * 0.10 / 8 / 30, rel=1e-6)
    assert found.high == pytest.approx(6000 * 2 * 0.20 / 4 / 30, rel=1e-6)


def test_a_screw_whose_thread_would_strip_is_tightened_less_and_holds_less(
    make_case: MakeCase,
) -> None:
    # Aluminium of 276 MPa at 0.577 on pi/2 x 5.35 x 6 mm of thread strips at 8.0 kN: of that 0.7.
    steel = holding_of(make_case(cross_hole__set_screws=[M6], bar__material="4140 prehard"))
    soft = holding_of(make_case(cross_hole__set_screws=[M6], bar__material="6061"))
    (hard,), (screw,) = steel.screws, soft.screws
    assert not hard.held_back
    assert hard.torque == pytest.approx(7.2)
    assert screw.held_back
    assert screw.torque.high == pytest.approx(0.7 * screw.stripping_torque)
    assert screw.hold / hard.hold == pytest.approx(screw.torque / 7.2)
    assert (
        "the torque that their threads bear"
        in holding_findings(make_case(cross_hole__set_screws=[M6], bar__material="6061"), soft)[
            0
        ].why
    )


def test_a_screw_beside_another_doubles_the_hold_and_one_against_it_adds_nothing(
    make_case: MakeCase,
) -> None:
    """Opposed screws press one bit: balance of the bit leaves the same two faces rubbing."""
    beside = [{**M6, "shift": "-8 mm"}, {**M6, "shift": "8 mm"}]
    against = [M6, {**M6, "side": "trailing"}]
    one, two, opposed = (
        holding_of(make_case(cross_hole__set_screws=screws)).hold_margin
        for screws in ([M6], beside, against)
    )
    assert one is not None
    assert two is not None
    assert opposed is not None
    assert two.likely == pytest.approx(2 * one.likely)
    assert opposed.likely == pytest.approx(one.likely)


def test_push_beyond_the_hold_is_a_miss(make_case: MakeCase) -> None:
    case = make_case(
        cross_hole__set_screws=[M6], cut__force={"radial": "400 N", "tangential": "900 N"}
    )
    (finding,) = holding_findings(case, holding_of(case))
    assert not finding.ok
    assert "backing screw" in finding.why


def test_better_steel_strips_later_in_the_measure_of_its_yield(make_case: MakeCase) -> None:
    for steel in ("4140 prehard", "1018 hot rolled"):
        case = make_case(bar__material=steel, cross_hole__set_screws=[M6])
        (screw,) = holding_of(case).screws
        ratio = case.bar.material.yield_strength / 221e6
        assert screw.strips_at / screw.strips_in_mild_steel == pytest.approx(ratio)
    # 221 MPa x 0.577 x pi x 5.35 mm x 6 mm / 2 by hand.
    assert screw.strips_at == pytest.approx(0.577 * 221e6 * pi * 5.35e-3 * 6e-3 / 2, rel=1e-3)


def test_thread_runs_from_the_surface_to_the_hole(make_case: MakeCase) -> None:
    # 12 mm bar, 4 mm hole 2 mm towards the trailing side: 6 mm of thread in front, 2 mm behind.
    case = make_case(
        bar__diameter="12 mm",
        cross_hole={"size": "4 mm", "position": "200 mm", "offset": "2 mm"},
        bit__size="4 mm",
        work__bore="30 mm",
    )
    screws = {
        side: SetScrew.model_validate({"diameter": "8 mm", "side": side})
        for side in ("leading", "trailing")
    }
    assert thread_length(case, screws["leading"]) == pytest.approx(0.006)
    assert thread_length(case, screws["trailing"]) == pytest.approx(0.002)


def test_bit_bends_as_a_cantilever() -> None:
    # M y / I of a 6 mm square, and of a 6 mm round, 100 N at 10 mm.
    square = 100 * 0.01 * 0.003 / (0.006**4 / 12)
    rounded = 100 * 0.01 * 0.003 / (pi * 0.006**4 / 64)
    assert overhang_stress(100, 0.01, 0.006, square=True) == pytest.approx(square)
    assert overhang_stress(100, 0.01, 0.006, square=False) == pytest.approx(rounded)


def test_longest_bit_is_half_the_bore_and_half_the_bar(make_case: MakeCase) -> None:
    # 2-1/2 in bore and 1-1/2 in bar: 2 in (common practice).
    case = make_case(bar__diameter="1-1/2 in", work__bore="2.5 in", work__start_bore="2.45 in")
    shortest, longest = bit_window(case)
    assert longest == pytest.approx(2 * 0.0254)
    assert shortest == pytest.approx(1.25 * 0.0254 + 0.004)


def test_tight_bore_lets_only_a_short_bit_be_drawn_back(make_case: MakeCase) -> None:
    case = make_case(bar__diameter="45 mm", work__bore="50 mm", work__start_bore="47 mm")
    # 23 mm free on the radius; the tail's far corner stands the bit's width beside the radius.
    size = case.bit.size
    assert bit_window(case)[1] == pytest.approx(0.023 + sqrt(0.023**2 - size**2))


def test_screw_head_has_the_room_of_its_corner(make_case: MakeCase) -> None:
    case = make_case(cross_hole__set_screws=[M6], work__start_bore="49 mm")
    assert screw_room(case) == pytest.approx(sqrt(0.0245**2 - 0.003**2) - 0.015)


def test_dog_pin_takes_the_torque_at_its_radius(make_case: MakeCase) -> None:
    drive = holding_of(make_case()).drive
    assert drive is not None
    assert drive.kind == "dog"
    assert drive.asked.likely == pytest.approx(80 * 0.025 / 0.040)
    assert drive.margin is None


def test_jaws_must_bear_torque_and_feed_together(make_case: MakeCase) -> None:
    drive = holding_of(make_case(supports__drive={"kind": "chuck"})).drive
    assert drive is not None
    assert drive.margin is not None
    assert drive.asked.likely == pytest.approx(sqrt((80 * 0.025 / 0.015) ** 2 + 20**2))
    assert drive.margin.low < drive.margin.likely < drive.margin.high


def test_centre_sheds_what_its_slope_sheds() -> None:
    reaction = Reaction(
        support="tail",
        station=0.4,
        radial=30.0,
        tangential=-40.0,
        axial=-5.0,
        moment_bit=0.0,
        moment_across=0.0,
        torque=0.0,
    )
    assert tail_thrust(reaction) == pytest.approx(50 / sqrt(3) + 5)


def test_slot_wants_half_the_bit_off_the_centre_line(make_case: MakeCase) -> None:
    assert holding_of(make_case()).slot_offset_wanted == pytest.approx(0.004)


def test_without_screws_nothing_is_judged(make_case: MakeCase) -> None:
    case = make_case()
    assert holding_findings(case, holding_of(case)) == ()


@pytest.mark.parametrize(("past", "ok"), [(-1e-4, False), (1e-4, True)])
def test_a_bit_that_ends_under_its_set_screw_misses(
    make_case: MakeCase, past: float, ok: bool
) -> None:
    # The screw stands on the middle of the bar, so its far side is half its width past it.
    plain = make_case(cross_hole__set_screws=[M6])
    case = plain.model_copy(
        update={"bit": plain.bit.model_copy(update={"length": plain.edge_radius + 0.003 + past})}
    )
    found = next(
        f for f in holding_findings(case, holding_of(case)) if f.what.startswith("length")
    )
    assert found.ok is ok
    assert found.limit == pytest.approx(plain.edge_radius + 0.003)


def test_a_bit_whose_tail_stands_out_of_the_bar_misses(make_case: MakeCase) -> None:
    plain = make_case(cross_hole__set_screws=[M6])
    bar = plain.bar_diameter(plain.cross_hole.position)
    case = plain.model_copy(
        update={"bit": plain.bit.model_copy(update={"length": plain.edge_radius + bar / 2 + 1e-4})}
    )
    found = next(
        f for f in holding_findings(case, holding_of(case)) if f.what.startswith("length")
    )
    assert not found.ok


def test_a_bit_that_no_set_screw_reaches_cannot_be(make_case: MakeCase) -> None:
    plain = make_case(cross_hole__set_screws=[M6])
    reaches = plain.edge_radius - 0.003

    def said(length: float) -> list[str]:
        bit = plain.bit.model_copy(update={"length": length})
        return [one.message for one in conflicts(plain.model_copy(update={"bit": bit}))]

    assert any("ends before the set screw" in text for text in said(reaches - 1e-5))
    assert not any("ends before the set screw" in text for text in said(reaches + 1e-5))
