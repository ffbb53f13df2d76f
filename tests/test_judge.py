"""Findings: margins, the right side of a limit, bands."""

from __future__ import annotations

from math import inf

import pytest
from conftest import MakeCase

from barwright.analysis.judge import Band, at_least, at_most
from barwright.analysis.run import analyse


def test_margin_is_one_at_the_limit_from_either_side() -> None:
    assert at_most("x", 2.0, 2.0, "length", "").margin == 1.0
    assert at_least("x", 2.0, 2.0, "share", "").margin == 1.0


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


def test_band_holds_every_value() -> None:
    assert Band.of(2.0, 3.0, 1.0) == Band(low=1.0, likely=2.0, high=3.0)


def test_a_bar_that_springs_past_its_limit_is_a_miss_with_its_reason(make_case: MakeCase) -> None:
    found = analyse(make_case(limits={"size_error": "1 um"})).findings
    size = next(one for one in found if one.what.startswith("size"))
    assert not size.ok
    assert "small by" in size.why
    assert "the same all along it" in size.why.replace("\n", " ")


def test_every_limit_of_the_case_is_judged(make_case: MakeCase) -> None:
    case = make_case(lathe={"power": "0.5 kW"})
    assert len(analyse(case).findings) == len(analyse(make_case()).findings) + 1


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "supports and work side are all taken as alike"),
        (
            {"supports__tail__vertical_stiffness": "10 N/um"},
            "the tail support gives more one way than the other while the force turns; the work "
            "side is taken as alike",
        ),
        (
            {
                "supports__tail__vertical_stiffness": "10 N/um",
                "work__horizontal_stiffness": "10 N/um",
            },
            "the tail support and the work side give more one way",
        ),
    ],
)
def test_out_of_round_names_what_gives_more_one_way(
    make_case: MakeCase, changes: dict[str, str], words: str
) -> None:
    found = {one.what: one for one in analyse(make_case(**changes)).findings}
    assert words in found["bore out of round"].why


def test_no_force_at_all_is_no_error(make_case: MakeCase) -> None:
    nothing = {"radial": "0 N", "tangential": "0 N", "axial": "0 N"}
    outcome = analyse(make_case(cut__force=nothing))
    assert outcome.size_error == Band(low=0.0, likely=0.0, high=0.0)
    assert outcome.passes.copied.likely == 0.0


def test_edge_that_pulls_itself_in_runs_and_says_large(make_case: MakeCase) -> None:
    case = make_case(
        cut__force=None, cut__depth="1 mm", bit__lead_angle="-40 deg", bit__nose_radius="0.1 mm"
    )
    found = analyse(case).findings
    size = next(one for one in found if one.what.startswith("size"))
    assert "is pulled into the cut and the bore comes out large by" in size.why
