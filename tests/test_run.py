"""The order of the stages, bands from what was guessed, and what refinement changes."""

from __future__ import annotations

import pytest
from conftest import MakeCase
from late_runs import late_run
from remembered import solved

from barwright.analysis.errors import ModelError
from barwright.analysis.run import Outcome, analyse


@pytest.fixture(scope="module")
def plain(make_case: MakeCase) -> Outcome:
    return late_run(make_case())


def test_typed_values_leave_no_band(make_case: MakeCase) -> None:
    steel = {"elastic_modulus": "205 GPa", "density": "7850 kg/m3", "yield_strength": "600 MPa"}
    outcome = late_run(make_case(bar__material=steel))
    assert outcome.size_error.low == pytest.approx(outcome.size_error.high, rel=1e-9)
    assert outcome.first_mode.low == pytest.approx(outcome.first_mode.high, rel=1e-9)


def test_a_guessed_support_opens_the_band_a_narrower_one_closes_it(
    make_case: MakeCase,
) -> None:
    def width(text: str) -> float:
        size = late_run(make_case(supports__tail__radial_stiffness=text)).size_error
        return size.high - size.low

    assert width("20 N/um (10 to 50)") > 1.2 * width("20 N/um (16 to 25)") > 0


def test_band_holds_the_likely_value(make_case: MakeCase) -> None:
    case = make_case(supports__tail__radial_stiffness="20 N/um (10 to 50)", cut__force=None)
    outcome = late_run(case)
    for band in (outcome.size_error, outcome.first_mode):
        assert band.low < band.likely < band.high


def test_beam_statics_carry_no_mesh_error(plain: Outcome) -> None:
    change = plain.refinement
    assert change.deflection < 1e-9
    assert change.first_mode < 1e-6


def test_bit_stays_put_so_the_bore_does_not_taper(make_case: MakeCase) -> None:
    """The work moves past the bit: nothing in the bar knows where along the bore it is."""
    short, long = (late_run(make_case(work__length=x)) for x in ("20 mm", "120 mm"))
    assert short.statics.diameter_error == long.statics.diameter_error


def test_steel_grade_hardly_changes_stiffness_or_pitch(make_case: MakeCase) -> None:
    mild, alloy = (
        late_run(make_case(bar__material=name))
        for name in ("mild steel hot rolled", "4140 prehard")
    )
    assert mild.statics.stiffness_radial == pytest.approx(alloy.statics.stiffness_radial, rel=0.03)
    assert mild.modes.first_bending == pytest.approx(alloy.modes.first_bending, rel=0.03)


def test_stiffness_grows_as_diameter_to_the_fourth_on_rigid_supports(
    make_case: MakeCase,
) -> None:
    rigid = {
        "supports__drive__radial_stiffness": "rigid",
        "supports__tail__radial_stiffness": "rigid",
        "cross_hole__size": "3 mm",
        "bit__size": "3 mm",
    }
    thin, thick = (
        late_run(make_case(bar__diameter=x, **rigid)).statics.compliance[0, 0]
        for x in ("20 mm", "24 mm")
    )
    assert thin / thick == pytest.approx(1.2**4, rel=0.02)


def test_loose_bar_is_refused_in_shop_words(make_case: MakeCase) -> None:
    loose = make_case(supports__drive={"kind": "dead centre"})
    with pytest.raises(ModelError, match="nothing stops the bar turning: add a dog or a chuck"):
        analyse(loose)


def test_first_critical_speed_is_the_first_mode_of_a_slim_bar(plain: Outcome) -> None:
    """The whirl takes the mean of the two planes; the spin moves it by parts in a thousand."""
    planes = (plain.modes.first("bit"), plain.modes.first("across"))
    assert plain.whirl.first_critical == pytest.approx(sum(planes) / 2, rel=3e-3)


def test_a_run_solved_as_far_as_it_is_read_says_what_a_whole_one_says() -> None:
    whole, late = solved("pump_bracket")[1], late_run(solved("pump_bracket")[0].case)
    assert tuple(late.findings) == whole.findings
    assert dict(late.chatter.margin) == dict(whole.chatter.margin)
    assert late.chatter.reason == whole.chatter.reason
    assert late.size_error.low == whole.size_error.low
    assert late.first_mode.high == whole.first_mode.high
    assert late.within_limits == whole.within_limits
    assert [one.depth for one in late.passes.passes] == [one.depth for one in whole.passes.passes]


@pytest.mark.slow
def test_a_run_on_the_solid_agrees_with_the_beam_and_finds_the_peak_at_the_hole() -> None:
    case_file, line = solved("pump_bracket")
    case = case_file.case
    body = analyse(case, "solid")
    assert line.hole_stress is None
    assert body.hole_stress is not None
    # The beam takes its hole from the table here: the give is good to a per cent or so.
    assert body.modes.first_bending == pytest.approx(line.modes.first_bending, rel=0.01)
    assert body.size_error.likely == pytest.approx(line.size_error.likely, rel=0.03)
    peak, bound = body.hole_stress.peak, body.strength.peak
    assert 0.0 < peak.error < 0.4
    # Peaks added up are an upper bound; a tenth of the plain bar's stress would be no peak at all.
    assert body.hole_stress.nominal < peak.value < bound.high
    assert peak.place[0] == pytest.approx(case.cross_hole.position, abs=case.cross_hole.size)
