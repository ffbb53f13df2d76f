"""Cutting force: worked values of several sources, factors, methods, ranges, typed forces."""

from __future__ import annotations

from math import hypot, pi, radians

import numpy as np
import pytest
from conftest import MakeCase
from hypothesis import given
from hypothesis import strategies as st

from barwright.analysis.case import Case, conflicts
from barwright.analysis.edge import Edge, Kienzle, edge_force
from barwright.analysis.force import (
    CuttingForce,
    cutting_force,
    energy_force,
    feed_factor,
    force_carried_over,
    low_speed_factor,
    rake_factor,
)
from barwright.analysis.material import work_materials
from barwright.analysis.units import Estimate

NORMAL = Kienzle(k=540e6, m=0.45)

# kc1.1 and m of a Koenig type table (from memory) and of VDI 3323 groups (two tool
# catalogues, 2017 p. 558 and 2022 p. 111); the forces follow from Kienzle's formula by hand:
# 0.25 mm deep, 0.1 mm/rev, side square to the bar.
KIENZLE = [
    ("C45, Koenig type", 2220e6, 0.14, 3064, 76.6),
    ("C45, VDI group 2", 1500e6, 0.22, 2489, 62.2),
    ("42CrMo4, Koenig type", 2500e6, 0.26, 4549, 113.7),
    ("4140 at 275 HB, VDI group 7", 1675e6, 0.24, 2911, 72.8),
    ("grey iron, Koenig type GG25", 1160e6, 0.26, None, 52.8),
    ("grey iron, VDI group 15", 1150e6, 0.20, None, 45.6),
    ("aluminium, VDI", 700e6, 0.25, None, 31.1),
    ("brass, VDI", 700e6, 0.27, None, 32.6),
    ("brass, Koenig type", 780e6, 0.18, None, 29.5),
]


@pytest.mark.parametrize(("metal", "k", "m", "specific", "force"), KIENZLE)
def test_kienzle_force_of_a_quarter_millimetre_at_a_tenth_feed(
    metal: str, k: float, m: float, specific: float | None, force: float
) -> None:
    edge = Edge(depth=0.25e-3, feed=0.1e-3, nose_radius=0.0, lead_angle=0.0)
    found = edge_force(edge, Kienzle(k=k, m=m), NORMAL).resultant[1]
    assert found == pytest.approx(force, abs=0.05), metal
    if specific is not None:
        assert found / (0.25 * 0.1) == pytest.approx(specific, abs=0.5), metal


def test_two_sources_on_4140_differ_by_half() -> None:
    edge = Edge(depth=0.25e-3, feed=0.1e-3, nose_radius=0.0, lead_angle=0.0)
    koenig, vdi = (
        edge_force(edge, Kienzle(k=k, m=m), NORMAL).resultant[1]
        for k, m in ((2500e6, 0.26), (1675e6, 0.24))
    )
    assert koenig / vdi == pytest.approx(1.56, abs=0.005)


def test_kienzle_power_of_a_lathe_cut_at_75_degrees() -> None:
    # C45, Koenig type (from memory): 1354.3 N, 0.5643 kW at 25 m/min, by hand
    edge = Edge(depth=2e-3, feed=0.25e-3, nose_radius=0.0, lead_angle=radians(15))
    found = edge_force(edge, Kienzle(k=2220e6, m=0.14), NORMAL).resultant[1]
    assert found == pytest.approx(1354.3, abs=0.05)
    assert found * 25 / 60 == pytest.approx(564.3, abs=0.05)


def test_turned_304_bar_of_kalpakjian_and_schmid() -> None:
    # Kalpakjian & Schmid, Manufacturing Engineering and Technology, turning example (question
    # seen, answers from memory): 12.5 to 12.0 mm, 400 rpm, 200 mm/min, u = 4 W.s/mm3 gives
    # 1924 mm3/min, 128 W, 3.06 N m; the force is by hand, 500 N.
    feed, middle = 200e-3 / 400, 12.25e-3
    force = energy_force(4e9, 0.25e-3, feed)
    assert force == pytest.approx(500.0)
    speed = pi * middle * 400 / 60
    assert speed * 0.25e-3 * feed * 60e9 == pytest.approx(1924, abs=0.5)
    assert force * speed == pytest.approx(128, abs=0.5)
    assert force * middle / 2 == pytest.approx(3.06, abs=0.005)


def test_power_of_a_tool_makers_example() -> None:
    # A cutting-tool maker's technical data: mild steel 3100 MPa, 3 mm, 0.2 mm/rev, 120 m/min,
    # machine efficiency 0.8: 4.65 kW.
    power = energy_force(3100e6, 3e-3, 0.2e-3) * 2.0 / 0.8
    assert power == pytest.approx(4650, abs=5)


# --- factors ------------------------------------------------------------------------------------


def test_rake_factor_is_one_and_a_half_percent_a_degree() -> None:
    # Dietrich/Tschaetsch 2014 (the 1.5 % from memory): 6 degrees steel, 2 cast iron, 0 aluminium
    assert float(rake_factor(radians(10), radians(6))) == pytest.approx(0.94)
    assert float(rake_factor(radians(0), radians(2))) == pytest.approx(1.03)
    rakes = {name: metal.reference_rake for name, metal in work_materials().items()}
    for name, degrees in (("medium-carbon steel", 6), ("grey iron", 2), ("6061", 0)):
        assert rakes[name] == pytest.approx(radians(degrees))


def test_neutral_rake_takes_nine_percent_more_than_a_table_for_six_degrees() -> None:
    assert float(rake_factor(0.0, radians(6))) == pytest.approx(1.09)  # a tool maker's page


@given(rake=st.floats(-0.5, 0.5), reference=st.floats(0, 0.1))
def test_rake_factor_falls_with_rake_and_keeps_its_range(rake: float, reference: float) -> None:
    found = rake_factor(rake, reference)
    assert found.low <= found <= found.high
    assert float(rake_factor(rake + 0.01, reference)) < found


def test_wear_spans_what_the_books_say(make_case: MakeCase) -> None:
    # Machinery's Handbook tool-wear factor: 1.00 sharp, 1.10 finish, 1.30 normal; German texts
    # 1.3 to 1.5 worn (both from memory)
    blunt = make_case().cut.edge_wear
    assert isinstance(blunt, Estimate)
    assert (blunt.low, blunt.high) == (1.0, 1.5)
    assert 1.10 <= blunt <= 1.30


def test_low_speed_costs_high_speed_steel_a_tenth_to_a_quarter() -> None:
    slow = low_speed_factor(20 / 60)  # German texts (from memory)
    assert (slow.low, slow.high) == pytest.approx((1.1, 1.25))
    assert slow.low < slow < slow.high
    assert low_speed_factor(50 / 60) == pytest.approx(float(slow))
    assert low_speed_factor(100 / 60) == 1.0
    half = low_speed_factor(75 / 60)  # a straight line between
    assert (half - 1, half.low - 1, half.high - 1) == pytest.approx(
        ((slow - 1) / 2, 0.05, 0.125), rel=1e-9
    )


# Feed, mm/rev, and feed factor, Machinery's Handbook (from memory): rows that our table has, and
# rows between them.
FEED_ROWS = [
    *((0.02, 1.70), (0.05, 1.40), (0.10, 1.25), (0.15, 1.15), (0.20, 1.08), (0.25, 1.04)),
    *((0.30, 1.00), (0.40, 0.94), (0.50, 0.90), (0.60, 0.87), (0.80, 0.82), (1.00, 0.78)),
]
ROWS_BETWEEN = [
    *((0.07, 1.30), (0.12, 1.20), (0.18, 1.11), (0.22, 1.06), (0.28, 1.01), (0.35, 0.97)),
    *((0.45, 0.92), (0.55, 0.88), (0.70, 0.84), (0.90, 0.80)),
]


def test_feed_factors_of_machinerys_handbook() -> None:
    for feed, factor in FEED_ROWS:
        assert feed_factor(feed * 1e-3) == pytest.approx(factor, rel=1e-9), feed
    for feed, factor in ROWS_BETWEEN:
        assert feed_factor(feed * 1e-3) == pytest.approx(factor, rel=0.022), feed


def test_feed_factor_is_held_at_the_ends_of_its_table() -> None:
    assert feed_factor(0.01e-3) == 1.70 > feed_factor(0.021e-3)
    assert feed_factor(2e-3) == 0.78 < feed_factor(0.99e-3)


# --- the table ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["low-carbon steel", "medium-carbon steel", "4140 annealed"])
def test_force_ratios_are_those_of_a_roughing_cut(name: str) -> None:
    # Texts (from memory): F_f 0.3 to 0.5 and F_p 0.2 to 0.5 of F_c; 4:2:1 and 5:2:1 of old
    metal = work_materials()[name]
    cutting = Kienzle(k=float(metal.specific_force), m=float(metal.force_exponent))
    normal = Kienzle(k=float(metal.normal_force), m=float(metal.normal_exponent))
    edge = Edge(depth=2e-3, feed=0.2e-3, nose_radius=0.8e-3, lead_angle=radians(30))
    r, t, x = edge_force(edge, cutting, normal).resultant
    assert 0.2 <= r / t <= 0.5
    assert 0.3 <= x / t <= 0.5


def test_low_carbon_steel_spans_what_the_sources_print_but_for_the_highest() -> None:
    # At h = 0.1 mm: Carvill 1200, VDI 3323 2189, St37 2633; the range is not one table's
    metal = work_materials()["low-carbon steel"]
    assert isinstance(metal.specific_force, Estimate)
    assert float(metal.specific_force) * 0.1**-0.17 == pytest.approx(2633e6, rel=5e-4)
    assert (
        metal.specific_force.low * 0.1**-0.17 <= 2189e6 <= metal.specific_force.high * 0.1**-0.17
    )


@pytest.mark.parametrize("name", list(work_materials()))
def test_speed_window_of_every_metal_is_a_window(name: str) -> None:
    metal = work_materials()[name]
    assert metal.hss_speed_least is not None
    assert metal.hss_speed_most is not None
    assert 5 / 60 < metal.hss_speed_least < metal.hss_speed_most < 250 / 60
    assert isinstance(metal.process_damping, Estimate)
    assert metal.process_damping.low == 0.0


@pytest.mark.parametrize(
    ("name", "slow", "fast"),
    [  # sfm: Jones, Turning and Boring; Ferrous Metals Data Book Tables 9-1, 9-2, 9-3, 9-6
        ("low-carbon steel", 45, 150),
        ("medium-carbon steel", 45, 130),
        ("free-machining steel", 65, 295),
        ("4140 annealed", 35, 135),
        ("4140 prehard", 25, 90),
    ],
)
def test_speed_windows_are_those_of_the_books(name: str, slow: float, fast: float) -> None:
    metal = work_materials()[name]
    foot_a_minute = 0.3048 / 60
    assert metal.hss_speed_least == pytest.approx(slow * foot_a_minute, rel=0.05)
    assert metal.hss_speed_most == pytest.approx(fast * foot_a_minute, rel=0.02)


# --- the whole case -----------------------------------------------------------------------------


def steel(make_case: MakeCase, **changes: object) -> Case:
    changes = {"cut__force": None, "work__material": "medium-carbon steel", **changes}
    return make_case(**changes)


def test_shipped_force_is_the_edges_times_every_factor(make_case: MakeCase) -> None:
    force = cutting_force(steel(make_case))
    assert [factor.name for factor in force.factors] == ["rake", "wear of the edge", "low speed"]
    assert all(factor.source for factor in force.factors)
    edge = Edge(depth=0.2e-3, feed=0.1e-3, nose_radius=0.4e-3, lead_angle=0.0)
    bare = edge_force(edge, Kienzle(k=2220e6, m=0.14), NORMAL).resultant
    expected = bare * 1.09 * 1.15 * 1.15
    assert (force.radial, force.tangential, force.axial) == pytest.approx(expected)
    assert force.specific_force == pytest.approx(bare[1] / (0.2e-3 * 0.1e-3))
    # light: 1500 of 2220 and 280 of 540 N/mm2, rake 1 % a degree, sharp, low speed 1.1
    assert force.tangential.low == pytest.approx(bare[1] * 1500 / 2220 * 1.06 * 1.0 * 1.1)
    assert force.radial.low == pytest.approx(bare[0] * 280 / 540 * 1.06 * 1.0 * 1.1)
    assert force.tangential.high == pytest.approx(bare[1] * 2400 / 2220 * 1.12 * 1.5 * 1.25)
    assert force.origin == "shipped table"
    assert force.power == pytest.approx(float(force.tangential) * pi * 0.05 * 2)


@pytest.mark.parametrize("method", ["kienzle", "power constant"])
def test_edge_at_each_end_carries_the_force_at_that_end(make_case: MakeCase, method: str) -> None:
    force = cutting_force(steel(make_case, cut__method=method))
    likely = tuple(map(float, (force.radial, force.tangential, force.axial)))
    assert force.edge.resultant == pytest.approx(likely)
    for end in ("low", "high"):
        moved = force.at(end)
        parts = [getattr(part, end) for part in (force.radial, force.tangential, force.axial)]
        assert force.edge_at(end).resultant == pytest.approx(parts)
        assert [moved.radial, moved.tangential, moved.axial] == pytest.approx(parts)
        assert moved.edge is force.edge_at(end)
        ratio = np.array(parts) / np.array(likely)
        expected = force.edge.regenerative * ratio[:, None]
        np.testing.assert_allclose(force.edge_at(end).regenerative, expected)


def test_power_constant_by_hand_and_both_methods_side_by_side(make_case: MakeCase) -> None:
    kienzle = cutting_force(steel(make_case))
    handbook = cutting_force(steel(make_case, cut__method="power constant"))
    # 2.24 W.s/mm3 (Machinery's Handbook 31 p. 1147), 1.25 at 0.1 mm/rev, 1.15 for wear
    assert handbook.tangential == pytest.approx(2.24e9 * 0.2e-3 * 0.1e-3 * 1.25 * 1.15)
    assert handbook.specific_force == pytest.approx(2.24e9 * 1.25)
    assert handbook.radial == kienzle.radial
    for force, other in ((kienzle, handbook), (handbook, kienzle)):
        (shown,) = force.other_methods
        assert shown.name == other.method
        assert shown.tangential == pytest.approx(float(other.tangential))
        assert (shown.tangential.low, shown.tangential.high) == pytest.approx(
            (other.tangential.low, other.tangential.high)
        )
    assert {factor.name: factor.parts for factor in handbook.factors} == {
        "rake": "radial and axial",
        "wear of the edge": "every part",
        "low speed": "radial and axial",
        "feed": "tangential",
    }


def test_the_other_method_says_where_it_has_its_value_from(make_case: MakeCase) -> None:
    for method, field in (("power constant", "specific_force"), ("kienzle", "power_constant")):
        case = steel(make_case, cut__method=method)
        (other,) = cutting_force(case).other_methods
        assert other.source == case.work.material.sources[field]
    own = {
        "specific_force": "2000 MPa",
        "force_exponent": "0.2",
        "normal_force": "500 MPa",
        "normal_exponent": "0.4",
        "power_constant": "2 GPa",
    }
    (other,) = cutting_force(steel(make_case, work__material=own)).other_methods
    assert other.source == "own value"


@pytest.mark.parametrize(
    ("feed", "told"), [("0.05", True), ("1", True), ("0.0499", False), ("1.001", False)]
)
def test_other_methods_are_told_within_the_feeds_of_their_table(
    make_case: MakeCase, feed: str, told: bool
) -> None:
    typed = {"radial": "30 N", "tangential": "80 N"}
    case = steel(make_case, cut__feed=f"{feed} mm/rev", cut__force=typed)
    assert [one.name for one in cutting_force(case).other_methods] == [
        "kienzle",
        "power constant",
    ] * told
    assert isinstance(cutting_force(case).other_methods, tuple)


def test_own_values_make_their_own_force(make_case: MakeCase) -> None:
    own = {
        "specific_force": "2000 MPa",
        "force_exponent": "0.2",
        "normal_force": "500 MPa",
        "normal_exponent": "0.4",
        "reference_rake": "0 deg",
    }
    force = cutting_force(steel(make_case, work__material=own, cut__edge_wear=1.0))
    edge = Edge(depth=0.2e-3, feed=0.1e-3, nose_radius=0.4e-3, lead_angle=0.0)
    bare = edge_force(edge, Kienzle(k=2e9, m=0.2), Kienzle(k=500e6, m=0.4)).resultant
    found = (force.radial, force.tangential, force.axial)
    assert found == pytest.approx(bare * float(low_speed_factor(pi * 0.05 * 2)))
    assert force.origin == "own values"
    assert force.other_methods == ()


def test_shallow_cut_pushes_along_the_bit_and_a_deep_one_along_the_bar(
    make_case: MakeCase,
) -> None:
    shallow = cutting_force(steel(make_case, cut__depth="0.05 mm"))
    deep = cutting_force(steel(make_case, cut__depth="2 mm"))
    assert shallow.radial > 2 * shallow.axial
    assert deep.axial > 2 * deep.radial


@pytest.mark.parametrize(
    ("changes", "key", "message"),
    [
        ({"cut__feed": "0.03 mm/rev"}, ("cut", "feed"), r"0\.05 mm/rev .* to 1 mm/rev .* that"),
        ({"cut__feed": "1.1 mm/rev"}, ("cut", "feed"), "the force of `medium-carbon steel` is"),
        ({"bit__rake": "40 deg"}, ("bit", "rake"), "40 deg is more than 30 deg from the 6 deg"),
        (
            {"cut__method": "power constant", "work__material": "brass"},
            ("cut", "method"),
            "there is no power constant for `brass`",
        ),
    ],
)
def test_what_the_table_does_not_know_is_refused_unless_the_force_is_typed(
    make_case: MakeCase, changes: dict[str, str], key: tuple[str, ...], message: str
) -> None:
    import re

    (found,) = conflicts(steel(make_case, **changes))
    assert found.key == key
    assert re.search(message, found.message)
    typed = {"radial": "30 N", "tangential": "80 N"}
    assert not conflicts(steel(make_case, **changes, cut__force=typed))


@pytest.mark.parametrize("nose", ["0 mm", "0.01 mm", "2 mm"])
@pytest.mark.parametrize("depth", ["0.001 mm", "1 mm"])
def test_thin_local_chips_are_never_refused(make_case: MakeCase, nose: str, depth: str) -> None:
    case = steel(make_case, bit__nose_radius=nose, cut__depth=depth)
    assert not conflicts(case)
    force = cutting_force(case)
    assert 0 < force.tangential.low < force.tangential < force.tangential.high


# --- typed forces -------------------------------------------------------------------------------


def rows(force: CuttingForce, plain: CuttingForce) -> list[float]:
    """Ratio of the regenerative gain's rows."""
    return [
        float(force.edge.regenerative[row, 0] / plain.edge.regenerative[row, 0])
        for row in range(3)
    ]


def test_typed_force_is_taken_as_it_stands(make_case: MakeCase) -> None:
    force = cutting_force(make_case())
    assert (force.radial, force.tangential, force.axial) == (30.0, 80.0, 20.0)
    assert (force.origin, force.method, force.factors) == ("typed", "typed", ())
    assert force.specific_force is None
    assert force.torque == pytest.approx(80 * 0.025)
    assert force.power == pytest.approx(80 * pi * 0.050 * 2)
    assert [other.name for other in force.other_methods] == ["kienzle"]


def test_typed_force_scales_each_direction_of_the_tables_gains(make_case: MakeCase) -> None:
    force, table = cutting_force(make_case()), cutting_force(make_case(cut__force=None))
    expected = [30 / table.radial, 80 / table.tangential, 20 / table.axial]
    assert rows(force, table) == pytest.approx(expected)
    assert force.edge.resultant == pytest.approx([30, 80, 20])


def test_axial_force_left_out_leaves_its_gain_in_the_proportion_of_the_radial(
    make_case: MakeCase,
) -> None:
    table = cutting_force(make_case(cut__force=None))
    force = cutting_force(make_case(cut__force={"radial": "30 N", "tangential": "80 N"}))
    assert force.edge.resultant == pytest.approx([30, 80, 0])
    assert rows(force, table)[2] == pytest.approx(30 / table.radial)


def test_typed_force_on_a_pointed_bit_keeps_the_push(make_case: MakeCase) -> None:
    typed = {"radial": "30 N", "tangential": "80 N", "axial": "40 N"}
    force = cutting_force(make_case(bit__nose_radius="0 mm", cut__force=typed))
    assert force.edge.resultant == pytest.approx([30, 80, 40])
    table = cutting_force(make_case(bit__nose_radius="0 mm", cut__force=None))
    assert hypot(float(table.radial), float(table.axial)) == pytest.approx(float(table.axial))
    ratio = force.edge.regenerative[2, 2] / table.edge.regenerative[2, 2]
    assert ratio == pytest.approx(40 / table.axial)


def test_typed_range_is_the_edges_range(make_case: MakeCase) -> None:
    typed = {"radial": "30 N (20 to 50)", "tangential": "80 N (60 to 90)"}
    force = cutting_force(make_case(cut__force=typed))
    assert (force.radial.low, force.radial.high) == (20, 50)
    assert force.edge_at("high").resultant == pytest.approx([50, 90, 0])
    low, high = (force.edge_at(end).regenerative[0, 0] for end in ("low", "high"))
    assert high / low == pytest.approx(50 / 20)


def test_typed_radial_force_alone_on_a_pointed_bit_goes_by_the_whole_push(
    make_case: MakeCase,
) -> None:
    """A pointed square bit has no table force along r: the push is held against all of it."""
    pointed = {"bit__nose_radius": "0 mm"}
    table = cutting_force(make_case(**pointed, cut__force=None))
    force = cutting_force(
        make_case(**pointed, cut__force={"radial": "0.5 N", "tangential": "2 N"})
    )
    gain, own = force.edge.regenerative, table.edge.regenerative
    assert gain[2, 2] == pytest.approx(own[2, 2] * 0.5 / table.axial)
    assert gain[1, 2] == pytest.approx(own[1, 2] * 2 / table.tangential)


def test_small_typed_forces_go_by_their_own_proportion_too(make_case: MakeCase) -> None:
    table = cutting_force(make_case(cut__force=None))
    small = {"radial": "0.3 N", "tangential": "0.8 N", "axial": "0.6 N"}
    expected = [0.3 / table.radial, 0.8 / table.tangential, 0.6 / table.axial]
    assert rows(cutting_force(make_case(cut__force=small)), table) == pytest.approx(expected)


def test_typed_force_is_carried_over_as_the_tables_force_changes(make_case: MakeCase) -> None:
    """Each direction keeps its proportion to the table's; one left out stays out."""
    typed = {"radial": "0.8 N (0.6 to 0.9)", "tangential": "80 N (60 to 90)"}
    planned, other = (
        make_case(cut__force=typed, cut__depth=depth, cut__feed=feed)
        for depth, feed in (("0.2 mm", "0.1 mm/rev"), ("0.5 mm", "0.2 mm/rev"))
    )

    def table(depth: float, feed: float) -> np.ndarray:
        metal = planned.work.material
        edge = Edge(depth=depth, feed=feed, nose_radius=0.4e-3, lead_angle=0.0)
        cutting = Kienzle(k=float(metal.specific_force), m=float(metal.force_exponent))
        normal = Kienzle(k=float(metal.normal_force), m=float(metal.normal_exponent))
        return edge_force(edge, cutting, normal).resultant

    grown = table(0.5e-3, 0.2e-3) / table(0.2e-3, 0.1e-3)
    found = force_carried_over(planned, other)
    for part, ends, factor in (
        (found.radial, (0.8, 0.6, 0.9), grown[0]),
        (found.tangential, (80, 60, 90), grown[1]),
        (found.axial, (0, 0, 0), 1.0),
    ):
        assert isinstance(part, Estimate)
        assert (part, part.low, part.high) == pytest.approx([end * factor for end in ends])
