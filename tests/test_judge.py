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
