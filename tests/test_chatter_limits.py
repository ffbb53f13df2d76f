"""How far a cut may go, and the verdict on it, with margins given and not solved."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, sqrt
from typing import Any

import numpy as np
import pytest
from conftest import MakeCase
from numpy.typing import NDArray

from barwright.analysis.case import Case
from barwright.analysis.chatter import (
    Corner,
    End,
    Setting,
    _bands,
    _bottom,
    _crossing,
    _depths,
    _dip,
    changed,
    corners,
    depth_limit,
    edge_of,
    in_order,
    least_depth,
    limit_from,
    margin_verdict,
    nose_radius_limit,
)
from barwright.analysis.force import cutting_force

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Told(Setting):
    """A setting whose margins are given."""

    told: Callable[[str, Floats, dict[str, float]], Floats]

    def margins(self, name: str, values: Floats, **changes: float) -> Floats:
        return self.told(name, values, changes)


@pytest.fixture(scope="module")
def plain(make_case: MakeCase) -> tuple[Case, Corner]:
    case = make_case()  # 0.2 mm deep at 0.1 mm/rev, nose 0.4 mm
    return case, corners(case)["likely"]


def told(
    plain: tuple[Case, Corner], margins: Callable[[str, Floats, dict[str, float]], Floats]
) -> Told:
    return Told(case=plain[0], corner=plain[1], told=margins)


# --- searches -----------------------------------------------------------------------------------


def test_crossing_of_a_curve_with_an_axis_is_found_to_ten_digits() -> None:
    found = _crossing(lambda g: 2.0 - g**3, 1.0, 1.9)
    assert found == pytest.approx(2 ** (1 / 3), rel=2e-10)
    # a curve so bent that a plain secant keeps one end for ever
    steep = _crossing(lambda g: 1e-3 - (g - 1.0) ** 9, 1.0, 3.0)
    assert steep == pytest.approx(1 + 1e-3 ** (1 / 9), rel=2e-10)


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_crossing_takes_few_steps(scale: float) -> None:
    asked: list[float] = []

    def excess(gain: float) -> float:
        asked.append(gain)
        return 2.0 - (gain / scale) ** 3

    found = _crossing(excess, scale, 1.9 * scale)
    assert found == pytest.approx(2 ** (1 / 3) * scale, rel=2e-10)
    assert len(asked) < 15


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
@pytest.mark.parametrize("place", [1.07, 1.5, 1.93])
def test_dip_is_found_where_a_curve_is_least(place: float, scale: float) -> None:
    asked: list[float] = []

    def excess(gain: float) -> float:
        asked.append(gain)
        return (gain / scale - place) ** 2 + 1

    assert _dip(excess, scale, 2 * scale) == pytest.approx(place * scale, rel=1e-4)
    assert len(asked) < 45


def test_dip_stops_at_the_first_value_below_nothing() -> None:
    asked: list[float] = []

    def excess(gain: float) -> float:
        asked.append(gain)
        return abs(gain - 1.7) - 0.15

    assert excess(_dip(excess, 1.0, 2.0)) < 0
    assert len(asked) < 6
    assert _dip(lambda g: g - 1.5, 1.0, 2.0) < 1.5 < _dip(lambda g: 1.5 - g, 1.0, 2.0)


def test_bands_hold_what_is_chosen_and_its_neighbours() -> None:
    f = np.array([10.0, 20.0, 30.0, 40.0, 50.0, 60.0])
    chosen = np.array([True, False, False, True, True, False])
    assert _bands(f, chosen) == [(10.0, 20.0), (30.0, 60.0)]
    assert _bands(f, np.arange(6) == 5) == [(50.0, 60.0)]
    assert _bands(f, np.zeros(6, dtype=bool)) == []


# --- where singing starts -----------------------------------------------------------------------


def test_first_value_that_sings_is_told_from_a_quiet_one() -> None:
    found = limit_from(lambda v: 2e-3 / v, 1e-3, quiet=True, least=1e-5, most=6e-3)
    assert found == pytest.approx(2e-3, rel=1.1e-3)
    assert found <= 2e-3
    # looked for as far as `most`, and no further
    assert limit_from(lambda v: 2e-3 / v, 1e-3, quiet=True, least=1e-5, most=1.9e-3) == inf
    beyond = limit_from(lambda v: 1.0005e-3 / v, 1e-3, quiet=True, least=1e-5, most=1e-4)
    assert beyond == pytest.approx(1e-3, rel=1.1e-3)


def test_margin_of_just_one_is_quiet() -> None:
    def margins(values: Floats) -> Floats:
        return np.where(values <= 2e-3, 1.0, 0.9)

    for quiet, planned in ((True, 1e-3), (False, 4e-3)):
        found = limit_from(margins, planned, quiet=quiet, least=1e-4, most=6e-3)
        assert found == pytest.approx(2e-3, rel=1.1e-3)


def test_quiet_cut_whose_own_margin_rounds_below_one_is_still_quiet() -> None:
    def margins(values: Floats) -> Floats:
        return np.where(values < 3e-3, np.where(values < 1.0001e-3, 0.9999, 2.0), 0.5)

    found = limit_from(margins, 1e-3, quiet=True, least=1e-5, most=6e-3)
    assert found == pytest.approx(3e-3, rel=1.1e-3)


def test_lowest_of_several_places_on_the_way_up_and_the_highest_on_the_way_down() -> None:
    def margins(values: Floats) -> Floats:
        sings = ((values > 2.00e-3) & (values < 2.04e-3)) | (values > 2.12e-3)
        return np.where(sings, 0.5, 1.2)

    up = limit_from(margins, 1.9e-3, quiet=True, least=1e-5, most=1.9e-3 * 1.2**31)
    assert up == pytest.approx(2.00e-3, rel=1.1e-3)
    down = limit_from(margins, 2.3e-3, quiet=False, least=2.3e-3 / 1.3**31, most=6e-3)
    assert down == pytest.approx(2.12e-3, rel=1.1e-3)


def test_cut_at_the_least_depth_that_sings_has_no_quiet_one_below() -> None:
    asked: list[Floats] = []

    def margins(values: Floats) -> Floats:
        asked.append(values)
        return np.where(values < 1e-3, 2.0, 0.5)

    assert limit_from(margins, 1e-3, quiet=False, least=1e-3, most=6e-3) == 0.0
    assert not asked
    found = limit_from(margins, 1.5e-3, quiet=False, least=1e-3 * (1 - 1e-6), most=6e-3)
    assert found == pytest.approx(1e-3, rel=1.1e-3)


def parabola(bottom: float, place: float, width: float) -> Callable[[Floats], Floats]:
    return lambda values: bottom + ((values - place) / width) ** 2


def test_dip_between_steps_is_looked_into_as_deep_as_it_may_sing() -> None:
    sings = _bottom(parabola(0.99, 1.503, 0.2), 1.0, 2.0)
    assert sings is not None
    assert sings == pytest.approx(1.503, abs=0.02)
    assert _bottom(parabola(1.01, 1.503, 0.2), 1.0, 2.0) is None
    # one too high to be worth it is given up at once
    asked: list[Floats] = []

    def high(values: Floats) -> Floats:
        asked.append(values)
        return parabola(2.0, 1.5, 0.2)(values)

    assert _bottom(high, 1.0, 2.0) is None
    assert len(asked) == 1
    # one at either end of the stretch is followed there
    assert _bottom(parabola(0.999, 1.001, 0.02), 1.0, 2.0) == pytest.approx(1.001, abs=2e-3)
    assert _bottom(parabola(0.9998, 1.9975, 0.05), 1.0, 2.0) == pytest.approx(1.9975, abs=2e-3)


# --- limits of the cut --------------------------------------------------------------------------


def test_depth_limit_goes_up_from_a_quiet_cut_and_down_from_one_that_sings(
    plain: tuple[Case, Corner],
) -> None:
    for edge in (3e-3, 0.1e-3):

        def margins(name: str, values: Floats, _: Any, edge: float = edge) -> Floats:
            assert name == "depth"
            return edge / values

        found = depth_limit(told(plain, margins), quiet=edge > 0.2e-3)
        assert found == pytest.approx(edge, rel=1.1e-3)


def test_depth_is_looked_for_to_six_millimetres_or_four_times_the_planned(
    plain: tuple[Case, Corner],
) -> None:
    def up_to(planned: float, edge: float) -> Any:
        case = changed(plain[0], depth=planned)
        return depth_limit(told((case, plain[1]), lambda _, values, __: edge / values), quiet=True)

    assert up_to(0.2e-3, 5.9e-3) == pytest.approx(5.9e-3, rel=1.1e-3)
    assert up_to(0.2e-3, 6.1e-3) == "none"
    assert up_to(2e-3, 7.9e-3) == pytest.approx(7.9e-3, rel=1.1e-3)
    assert up_to(2e-3, 8.1e-3) == "none"


def test_depth_below_the_feed_marks_is_no_depth(plain: tuple[Case, Corner]) -> None:
    """Marks of 0.1 mm/rev by a 0.4 mm nose are 3.1 um high; the edge's own 5 um are more."""
    setting = told(plain, lambda _, values, __: 4.9e-6 / values)
    assert depth_limit(setting, quiet=False) == "no usable depth"
    setting = told(plain, lambda _, values, __: 5.2e-6 / values)
    assert depth_limit(setting, quiet=False) == pytest.approx(5.2e-6, rel=1.1e-3)


@pytest.mark.parametrize(("share", "quiet"), [(1.0, False), (0.5, True)])
def test_quiet_is_found_out_where_it_is_not_known(
    make_case: MakeCase, plain: tuple[Case, Corner], share: float, quiet: bool
) -> None:
    """Half of the force has twice the margin, on the same bar."""
    force = {"radial": f"{30 * share} N", "tangential": f"{80 * share} N"}
    setting = Setting(case=make_case(cut__force=force), corner=plain[1])
    planned = setting.case.cut.depth
    assert (setting.margins("depth", np.array([planned]))[0] >= 1.0) is np.bool_(quiet)
    limit = depth_limit(setting)
    assert limit == depth_limit(setting, quiet)
    beyond = limit == "none" or (isinstance(limit, float) and limit > planned)
    assert beyond is quiet


@pytest.mark.parametrize("deep", [True, False])
def test_nose_limit_holds_for_any_depth_only_if_it_does(
    plain: tuple[Case, Corner], deep: bool
) -> None:
    """The planned depth, 0.2 mm, is quiet to a nose of 1 mm; beyond 5 mm deep it may not be."""

    def margins(name: str, values: Floats, changes: dict[str, float]) -> Floats:
        if name == "nose_radius":
            return 1e-3 / values
        assert name == "depth"
        assert changes["nose_radius"] == pytest.approx(1e-3, rel=1.1e-3)
        assert values[0] > 0.2e-3
        assert values[-1] == pytest.approx(6e-3)
        assert values.size == 11
        return np.where(values > 5e-3, 0.9 if deep else 1.0, 2.0)

    limit, holds_for = nose_radius_limit(told(plain, margins), quiet=True)
    assert limit == pytest.approx(1e-3, rel=1.1e-3)
    assert holds_for == ("this depth" if deep else "any depth")


def test_nose_limit_from_a_deep_cut_looks_to_four_times_its_depth(
    plain: tuple[Case, Corner],
) -> None:
    case = changed(plain[0], depth=2e-3)

    def margins(name: str, values: Floats, _: Any) -> Floats:
        if name == "nose_radius":
            return 1e-3 / values
        assert values[-1] == pytest.approx(8e-3)
        return 0 * values + 2

    assert nose_radius_limit(told((case, plain[1]), margins), quiet=True)[1] == "any depth"


def test_nose_limit_without_end_or_without_any(plain: tuple[Case, Corner]) -> None:
    def reach(edge: float, quiet: bool) -> tuple[Any, str]:
        return nose_radius_limit(told(plain, lambda _, v, __: edge / v), quiet=quiet)

    assert reach(6.1e-3, True) == ("none", "this depth")
    assert reach(5.9e-3, True)[0] == pytest.approx(5.9e-3, rel=1.1e-3)
    assert reach(1.9e-5, False) == ("no usable radius", "this depth")
    assert reach(2.1e-5, False)[0] == pytest.approx(2.1e-5, rel=1.1e-3)


def test_nose_of_a_pointed_bit_is_looked_for_from_two_hundredths(
    plain: tuple[Case, Corner],
) -> None:
    case = changed(plain[0], nose_radius=0.0)
    asked: list[float] = []

    def margins(name: str, values: Floats, _: Any) -> Floats:
        asked.append(float(values[0]))
        return 1e-3 / values if name == "nose_radius" else 0 * values + 2

    limit, _ = nose_radius_limit(told((case, plain[1]), margins), quiet=True)
    assert limit == pytest.approx(1e-3, rel=1.1e-3)
    assert asked[0] == pytest.approx(2e-5)


def test_depth_limits_of_the_ends_are_put_in_order(plain: tuple[Case, Corner]) -> None:
    """Where the soft end is the quiet one the ends change places; the likely one stays."""

    def settings(low: float, likely: float, high: float) -> dict[End, Setting]:
        def up_to(edge: float) -> Setting:
            return told(plain, lambda _, values, __: edge / values)

        return {"low": up_to(low), "likely": up_to(likely), "high": up_to(high)}

    def found(quiet: bool, *edges: float) -> list[Any]:
        known: dict[End, bool] = {"low": quiet, "likely": quiet, "high": quiet}
        limits = _depths(settings(*edges), known)
        assert list(limits) == ["low", "likely", "high"]
        return list(limits.values())

    near = [pytest.approx(edge, rel=1.1e-3) for edge in (1e-3, 2e-3, 3e-3)]
    assert found(True, 3e-3, 2e-3, 1e-3) == near
    assert found(True, 1e-3, 2e-3, 3e-3) == near
    assert found(True, 7e-3, 2e-3, 1e-3) == [*near[:2], "none"]
    assert found(False, 0.1e-3, 1e-6, 0.05e-3) == [
        "no usable depth",
        "no usable depth",
        pytest.approx(0.1e-3, rel=1.1e-3),
    ]


def test_least_depth_is_the_marks_height_or_the_edges_radius(make_case: MakeCase) -> None:
    """A nose of 0.4 mm leaves 12.6 um at 0.2 mm/rev; at 0.1 its marks are below 5 um."""
    case = make_case()
    marks = 0.4 - sqrt(0.4**2 - 0.1**2)
    assert least_depth(changed(case, feed=0.2e-3)) == pytest.approx(marks * 1e-3, rel=1e-9)
    assert least_depth(case) == 5e-6
    assert least_depth(changed(case, nose_radius=0.05e-3)) == 5e-6


# --- the cut changed ----------------------------------------------------------------------------


def test_bit_and_cut_are_changed_and_nothing_else(make_case: MakeCase) -> None:
    case = make_case(cut__force=None)
    other = changed(case, depth=1e-3, feed=2e-4, nose_radius=3e-4, lead_angle=0.4)
    assert (other.cut.depth, other.cut.feed) == (1e-3, 2e-4)
    assert (other.bit.nose_radius, other.bit.lead_angle) == (3e-4, 0.4)
    back = {"nose_radius": case.bit.nose_radius, "lead_angle": case.bit.lead_angle}
    assert changed(other, depth=case.cut.depth, feed=case.cut.feed, **back) == case
    assert changed(case) == case


def test_soft_end_of_the_bar_meets_the_hard_end_of_the_force(make_case: MakeCase) -> None:
    typed = {"radial": "30 N (20 to 50)", "tangential": "80 N (60 to 90)"}
    case = make_case(cut__force=typed)
    force = cutting_force(case)
    ends: tuple[End, ...] = ("low", "likely", "high")
    found = [edge_of(case, end).resultant[:2].tolist() for end in ends]
    assert found == [[50, 90], [30, 80], [20, 60]]
    assert edge_of(case, "likely").resultant.tolist() == force.edge.resultant.tolist()


# --- the verdict --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("low", "likely", "bare", "verdict", "words"),
    [
        (1.0, 2.0, 0.5, "good", "quiet even at the pessimistic end"),
        (0.99, 0.99, 0.5, "avoid", "likely to chatter"),
        (0.99, 1.0, 0.99, "caution", "only because the flank of a slow bit rubs"),
        (0.99, 1.0, 1.0, "caution", "but not at the pessimistic end of the guesses"),
    ],
)
def test_verdict_goes_by_the_low_end_then_the_likely_then_the_rubbing(
    low: float, likely: float, bare: float, verdict: str, words: str
) -> None:
    found, reason = margin_verdict({"low": low, "likely": likely, "high": 5.0}, bare)
    assert found == verdict
    assert words in reason


def test_band_is_in_order_whichever_end_is_the_quiet_one() -> None:
    assert in_order({"low": 3.0, "likely": 2.0, "high": 1.0}) == {
        "low": 1.0,
        "likely": 2.0,
        "high": 3.0,
    }
