"""Which part sings: energies that add up, a part alone in the loop, and one that is rigid."""

from __future__ import annotations

import numpy as np
import pytest
from conftest import MakeCase

from barwright.analysis.beam import beam_model
from barwright.analysis.case import Case
from barwright.analysis.chatter import corners, solve_chatter
from barwright.analysis.model import factorised
from barwright.analysis.modes import undamped_modes
from barwright.analysis.sung_by import PARTS, SungBy, energy_shares, sung_by, sung_by_words

TABLE_FORCE = {"cut__force": None}


def found(case: Case) -> SungBy:
    ends = corners(case)
    singer = sung_by(case, ends["likely"], solve_chatter(case, ends))
    assert singer is not None
    return singer


def test_energy_of_a_mode_is_all_in_the_bar_and_its_supports(make_case: MakeCase) -> None:
    """Rayleigh: at the natural pitch the strain energies add up to the kinetic one."""
    held = factorised(beam_model(make_case(), averaged=True))
    modes = undamped_modes(held, count=6, counted=False)
    for number in range(6):
        shares = energy_shares(held.model, modes, number)
        assert sum(shares.values()) == pytest.approx(1.0, rel=1e-6)
        assert min(shares.values()) > -1e-9


def test_a_stiff_bar_on_soft_springs_swings_in_its_springs(make_case: MakeCase) -> None:
    """A bar on springs of k/100 of its own has all but some hundredths of the energy in them."""
    soft = make_case(
        supports__tail__radial_stiffness="0.05 N/um", supports__drive__radial_stiffness="0.05 N/um"
    )
    held = factorised(beam_model(soft, averaged=True))
    modes = undamped_modes(held, count=6, counted=False)
    first = next(k for k, plane in enumerate(modes.plane) if plane == "bit")
    shares = energy_shares(held.model, modes, first)
    assert shares["bar itself"] < 0.02
    assert shares["tail support"] + shares["drive support"] > 0.98


def test_where_the_work_side_is_rigid_the_bar_sings(make_case: MakeCase) -> None:
    singer = found(make_case(**TABLE_FORCE, work__axial_stiffness="rigid"))
    assert singer.part == "bar, bending"
    assert singer.shares["work side"] == pytest.approx(0.0, abs=1e-12)
    assert singer.others == ()
    assert "nothing else comes near" in sung_by_words(singer)
    assert "in the bar itself" in sung_by_words(singer)


def test_where_the_bar_is_short_and_thick_and_the_work_soft_the_work_side_sings(
    make_case: MakeCase,
) -> None:
    singer = found(
        make_case(
            **TABLE_FORCE,
            bar__span="120 mm",
            bar__diameter="40 mm",
            cross_hole__position="60 mm",
            work__radial_stiffness="3 N/um",
            work__mass="20 kg",
            work__damping_ratio="1 %",
        )
    )
    assert singer.part == "work side"
    assert singer.energy == {}
    assert sung_by_words(singer).startswith("the work side")


def test_nothing_sings_where_no_pitch_was_found(make_case: MakeCase) -> None:
    case = make_case(**TABLE_FORCE)
    ends = corners(case)
    chatter = solve_chatter(case, ends)
    mute = type(chatter)(
        **{name: getattr(chatter, name) for name in chatter.__dataclass_fields__}
        | {"frequency": float("nan")}
    )
    assert sung_by(case, ends["likely"], mute) is None


def test_a_part_that_comes_near_is_named_as_well() -> None:
    shares = {"bar, bending": 0.6, "work side": 0.5, "bit": 0.0}
    near = SungBy(shares=shares, energy={"bar itself": 0.9, "tail support": 0.05})
    assert near.others == ("work side",)
    assert sung_by_words(near) == (
        "the bar, bending (90% in the bar itself); it could be the work side"
    )


def test_a_stilled_part_keeps_its_static_give(make_case: MakeCase) -> None:
    """At a pitch of nothing a part gives as much with its swing as without."""
    from barwright.analysis.sung_by import _stilled

    case = make_case(**TABLE_FORCE, work__radial_stiffness="30 N/um")
    whole = corners(case)["likely"].compliance
    slow = np.array([1e-3])
    for fields in PARTS.values():
        still = _stilled(whole, fields)
        np.testing.assert_allclose(still.at(slow).real, whole.at(slow).real, rtol=1e-6, atol=1e-16)
