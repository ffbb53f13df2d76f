"""Supports on a bar: loose bars refused in shop words, rigid ones, and what cannot be solved."""

from __future__ import annotations

import pickle
import re
from dataclasses import replace
from math import inf, pi
from typing import Any

import numpy as np
import pytest

from barwright.analysis import reference_bars as bars
from barwright.analysis.errors import ModelError, SolveError
from barwright.analysis.model import Held, Model, count_below, factorised, springs
from barwright.analysis.modes import undamped_modes
from barwright.analysis.timoshenko import Mount, beam

L = 0.4
HELD: dict[str, Any] = {"vertical": 1e7, "horizontal": 1e7, "axial": 1e7, "turning": 1e4}
TURN = "nothing stops the bar turning: add a dog or a chuck"
SLIDE = "nothing stops the bar sliding along: add a centre or a chuck that holds it endways"
UP = "nothing holds the bar up: add a support or give one a radial stiffness"
SIDEWAYS = "nothing holds the bar sideways: add a support or give one a radial stiffness"
SWING = "the bar can swing about its one support: add a tail support or a chuck that grips"


def mount(station: float, **stiffness: float) -> Mount:
    given: dict[str, Any] = {"vertical": 0.0, "horizontal": 0.0} | stiffness
    return Mount(name="support", start=station, end=station, **given)


def bar(*holds: Mount, arm: float = 0.02, length: float = L) -> Model:
    piece = bars.reference_segment(length=length)
    return beam([piece], holds, edge=length / 2, arm=arm, longest=length / 4)


LOOSE = {
    "two radial supports and no dog": (
        (mount(0.0, **HELD | {"turning": 0.0}), mount(L, vertical=1e7, horizontal=1e7)),
        TURN,
    ),
    "nothing endways": (
        (mount(0.0, **HELD | {"axial": 0.0}), mount(L, vertical=1e7, horizontal=1e7)),
        SLIDE,
    ),
    "sideways springs only": (
        (mount(0.0, **HELD | {"vertical": 0.0}), mount(L, horizontal=1e7)),
        UP,
    ),
    "up and down springs only": (
        (mount(0.0, **HELD | {"horizontal": 0.0}), mount(L, vertical=1e7)),
        SIDEWAYS,
    ),
    "one centre at the end": ((mount(0.0, **HELD),), SWING),
    "one centre at the other end": ((mount(L, **HELD),), SWING),
    "one centre in the middle": ((mount(L / 2, **HELD),), SWING),
    "one rigid centre": ((mount(0.0, **dict.fromkeys(HELD, inf)),), SWING),
    "a tail that holds sideways only": (
        (mount(0.0, **HELD), mount(L, horizontal=1e7)),
        SWING,
    ),
    "a tail that holds up and down only": (
        (mount(0.0, **HELD), mount(L, vertical=1e7)),
        SWING,
    ),
    "tilt springs alone": ((mount(0.0, axial=1e7, turning=1e4, tilt=1e5),), UP),
    "no support": ((), UP),
}


@pytest.mark.parametrize("name", LOOSE)
@pytest.mark.parametrize("arm", [0.0, 0.03])
def test_a_bar_free_to_move_is_refused_in_shop_words(name: str, arm: float) -> None:
    holds, sentence = LOOSE[name]
    with pytest.raises(ModelError, match=f"^{re.escape(sentence)}$"):
        factorised(bar(*holds, arm=arm))


@pytest.mark.parametrize("name", LOOSE)
def test_a_loose_bar_is_refused_whatever_its_length(name: str) -> None:
    holds, sentence = LOOSE[name]
    scaled = tuple(replace(hold, start=hold.start * 10, end=hold.end * 10) for hold in holds)
    with pytest.raises(ModelError, match=f"^{re.escape(sentence)}$"):
        factorised(bar(*scaled, length=10 * L))


def test_one_chuck_that_grips_is_enough() -> None:
    held = Held(factorised(bar(mount(0.0, **HELD, tilt=1e4))))
    assert np.all(np.diag(held.edge_compliance) > 0)


def test_a_support_far_softer_than_the_bar_is_refused_as_none_at_all() -> None:
    soft = mount(0.0, **HELD), mount(L, vertical=1e-5, horizontal=1e-5)
    with pytest.raises(ModelError, match=re.escape(SWING)):
        factorised(bar(*soft))


def test_rigid_supports_do_not_move_and_take_the_whole_load() -> None:
    rigid = bars.ends("clamped", "pinned")
    held = Held(factorised(bar(*rigid)))
    model = held.factored.model
    response = held.solve(model.edge[:, 0] * 100.0)
    moved = np.abs(held.factored.motion.T @ response.motion[:, 0])
    at_edge = model.edge[:, 0] @ response.motion[:, 0]
    assert moved[[0, 1, 2, 3, 4, 5, 6, 7]].max() < 1e-12 * at_edge
    taken = (held.springs.column @ response.spring_force[:, 0]).reshape(2, 6)
    assert taken[:, 0].sum() == pytest.approx(100.0)


def test_rigid_is_where_ever_stiffer_springs_lead() -> None:
    rigid = Held(factorised(bar(*bars.ends("pinned", "pinned")))).edge_compliance[0, 0]
    for stiffness in (1e9, 1e11, 1e13):
        holds = bars.spring(0.0, stiffness, ground=True), bars.spring(L, stiffness)
        sprung = Held(factorised(bar(*holds))).edge_compliance[0, 0]
        assert sprung - rigid == pytest.approx(1 / (2 * stiffness), rel=1e-3, abs=1e-8 * rigid)


def test_two_rigid_supports_at_one_place_cannot_be_solved() -> None:
    twice = mount(0.0, **dict.fromkeys(HELD, inf), tilt=inf), mount(0.0, vertical=inf)
    with (
        pytest.warns(Warning, match="Singular|singular"),
        pytest.raises(SolveError, match=r"^the supports' equations are nearly singular \(recip"),
    ):
        Held(factorised(bar(*twice)))


def test_two_all_but_rigid_supports_at_one_place_are_not_trusted() -> None:
    stiff = mount(0.0, **HELD | {"vertical": 1e24}), mount(0.0, vertical=1e24), mount(L, **HELD)
    with pytest.raises(SolveError, match=r"nearly singular \(reciprocal condition \de-1\d\)"):
        Held(factorised(bar(*stiff)))


def test_springs_are_listed_with_their_owner_and_give() -> None:
    model = bar(mount(0.0, **HELD, tilt=1e5), mount(L, vertical=2e7, horizontal=inf))
    found = springs(model)
    assert found.hold.tolist() == [0, 0, 0, 0, 0, 0, 1, 1]
    assert found.flexibility.tolist() == [1e-7, 1e-7, 1e-7, 1e-5, 1e-5, 1e-4, 5e-8, 0.0]
    assert found.column.shape == (12, 8)


def test_springs_of_no_support_are_none() -> None:
    found = springs(bar())
    assert found.column.shape == (0, 0)
    assert found.flexibility.size == found.hold.size == 0


def test_vertical_springs_feel_r_when_the_bit_is_up_and_t_a_quarter_turn_on() -> None:
    """Turned past upright the way the bar turns, the bit's t points down."""
    model = bar(mount(0.0, vertical=1e7, axial=1e7, turning=1e4, tilt=1e5))
    up, level = springs(model, 0.0).column[:, 0], springs(model, pi / 2).column[:, 0]
    assert up == pytest.approx([1, 0, 0, 0, 0, 0])
    assert level == pytest.approx([0, -1, 0, 0, 0, 0])


def test_unlike_supports_make_the_edge_softer_one_way() -> None:
    holds = mount(0.0, **HELD | {"horizontal": 1e6}), mount(L, vertical=1e7, horizontal=1e6)
    factored = factorised(bar(*holds, arm=0.0))
    up, level = (Held(factored, angle).edge_compliance for angle in (0.0, pi / 2))
    assert level[0, 0] - up[0, 0] == pytest.approx((1e-6 - 1e-7) / 2, rel=1e-9)
    assert up[1, 1] == pytest.approx(level[0, 0], rel=1e-12)


def test_count_below_counts_none_under_the_first_mode_and_all_under_the_sky() -> None:
    factored = factorised(bar(*bars.ends("clamped", "pinned")))
    first = undamped_modes(factored, count=4).frequency[0]
    assert count_below(factored, first * 0.999) == 0
    assert count_below(factored, first * 1.001) == 2  # one in each plane
    held = 8  # rigid springs, each takes one away
    assert count_below(factored, 1e9) == factored.model.n_dof - held


def test_refusals_come_back_whole_from_a_worker_process() -> None:
    for error in (ModelError(SWING), SolveError("not sound")):
        back = pickle.loads(pickle.dumps(error))
        assert type(back) is type(error)
        assert str(back) == str(error)
