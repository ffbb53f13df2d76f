"""What a run says and records of strength and holding."""

from __future__ import annotations

import json
from dataclasses import replace
from types import SimpleNamespace

import pytest
from remembered import late

from barwright.analysis.peak import HoleStress, Peak
from barwright.analysis.strength import strength_findings
from barwright.analysis.strength_record import holding_summary, strength_summary
from barwright.analysis.units import Estimate
from barwright.cli import run_lines
from barwright.cli.strength_lines import details


def test_chuck_case_is_told_in_shop_words(capsys: pytest.CaptureFixture[str]) -> None:
    details(late("pump_bracket"), "mm")
    text = " ".join(capsys.readouterr().out.split())
    assert text.isascii()
    for needed in (
        "taken as a radius of a tenth",
        "only comes and goes",
        "M6 set screw at 7.2 N.m",
        "no screw bites high-speed steel",
        "margin against slipping",
        "pilot drill",
    ):
        assert needed in text
    assert not any(word in text for word in ("node", "receptance", "DOF", "inf", "nan"))


def test_dog_case_tells_the_load_on_its_pin(capsys: pytest.CaptureFixture[str]) -> None:
    details(late("sluice_gate_pivot"), "inch")
    assert "load on the dog's pin" in capsys.readouterr().out


def test_case_without_screws_says_that_they_are_not_judged(
    capsys: pytest.CaptureFixture[str],
) -> None:
    details(late("valve_block"), "mm")
    assert "No set screw is given" in capsys.readouterr().out


def test_summary_leads_with_bands_and_leaves_out_what_the_case_has_not() -> None:
    found = late("valve_block")
    strength, holding = strength_summary(found.strength, None), holding_summary(found.holding)
    json.dumps([strength, holding], allow_nan=False)
    assert list(strength["yield_margin"]) == ["low", "likely", "high"]
    assert strength["stress_peak_Pa"] == strength["stress_peak_by_factors_Pa"]["likely"]
    assert "screw_hold_margin" not in holding


@pytest.mark.parametrize(
    ("name", "tail", "words"),
    [
        ("pump_bracket", True, "a tail off the chuck's line"),
        ("sluice_gate_pivot", False, "nothing else: between centres nothing can be out of line"),
    ],
)
def test_a_tail_out_of_line_is_named_where_there_can_be_one(
    name: str, tail: bool, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Between centres the bar tilts with the line of the two: there is no other to be off."""
    run = late(name)
    details(run, run.case.own)
    assert words in " ".join(capsys.readouterr().out.split())
    (why,) = [
        one.why
        for one in strength_findings(run.case, run.strength)
        if one.what == "margin against fatigue at the hole"
    ]
    assert why.endswith("what reverses each turn is sag and a tail out of line") is tail
    assert why.endswith("what reverses each turn is sag") is not tail


def test_a_screw_held_back_is_told_beside_the_torque_that_strips_its_thread(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """T = 0.2 F d for 7437 N on M6 is 8.92 N m, 1.43 times the 6.25 N m advised."""
    run = late("pump_bracket")
    (screw,) = run.holding.screws
    soft = replace(screw, torque=Estimate(6.25, 6.25, 6.25), strips_at=7437.0)
    details(replace(run, holding=replace(run.holding, screws=(soft,))), "mm")
    text = " ".join(capsys.readouterr().out.split())
    assert "at a torque of 8.9 N.m (79 lbf.in), 1.4 times that of the screw" in text


SOLID_PEAK = Peak(
    value=3e6,
    error=0.04,
    by_mesh=(2.8e6, 2.95e6, 3e6),
    order=2.7,
    off_wall=0.03,
    place=(0.1, 0.0, 0.01),
)


def test_solid_run_keeps_its_own_peak_with_its_band_beside_the_factors() -> None:
    solid = HoleStress(nominal=1e6, peak=SOLID_PEAK, corner_taken=None)
    found = strength_summary(late("pump_bracket").strength, solid)
    json.dumps(found, allow_nan=False)
    assert found["stress_peak_Pa"] == 3e6
    assert found["stress_peak_by_solid_Pa"] == pytest.approx(
        {"low": 2.88e6, "likely": 3e6, "high": 3.12e6}
    )
    assert found["stress_corner_radius_taken_m"] == "none"
    assert found["stress_peak_by_factors_Pa"]["likely"] != 3e6


def test_solid_run_prints_its_peak_with_the_band_and_names_a_corner_it_could_not_follow(
    capsys: pytest.CaptureFixture[str],
) -> None:
    outcome = SimpleNamespace(
        model=SimpleNamespace(kind="solid"),
        hole_stress=HoleStress(nominal=1e6, peak=SOLID_PEAK, corner_taken=0.0002),
    )
    run_lines._hole_stress(outcome, "mm")  # type: ignore[arg-type]
    said = " ".join(capsys.readouterr().out.split())
    assert "Peak 3 MPa" in said
    assert "2.88 MPa" in said
    assert "3.12 MPa" in said
    assert "in a true point without limit" in said
    outcome.hole_stress = None
    run_lines._hole_stress(outcome, "mm")  # type: ignore[arg-type]
    assert "the solid says nothing of the stress" in " ".join(capsys.readouterr().out.split())
