"""What a run says and records of the bar by itself."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from conftest import MakeCase
from late_runs import late_run

from barwright.analysis.behaviour_record import behaviour_summary
from barwright.analysis.casefile import read_case
from barwright.cli import pass_table
from barwright.cli.behaviour_lines import details

CASES = Path(__file__).parents[1] / "cases"
READINGS = [
    {"at": f"{x} mm", "reading": f"{y} mm"}
    for x, y in ((20, 0.04), (100, 0.03), (200, 0.02), (300, 0.01), (380, 0.002))
]


def said(capsys: pytest.CaptureFixture[str]) -> str:
    text = " ".join(capsys.readouterr().out.split())
    assert text.isascii()
    assert not any(word in text for word in ("node", "receptance", "DOF", " inf", "nan "))
    return text


def chucked(make_case: MakeCase, **changes: Any) -> Any:
    return late_run(make_case(supports__drive={"kind": "chuck"}, **changes))


def test_bar_by_itself_is_told_in_shop_words(capsys: pytest.CaptureFixture[str]) -> None:
    """The hinge knuckle: bent between its centres, a dog on it."""
    outcome = late_run(read_case(CASES / "hinge_knuckle.yaml"))
    details(outcome, "inch")
    text = said(capsys)
    for needed in (
        "Sag at the bit 0.095 thou (2.4 um)",
        " oz in (the dog any way round)",
        "so balance does not matter here",
        "bent 1.99 thou (50.6 um); a hump between the ends: the bar is bent",
        "negative for smaller; the settings over bit and bar allow for the likely part",
        "The last pass, set from the measured bore, takes it out",
    ):
        assert needed in text
    assert "tail_offset" not in text
    details(outcome, "mm")
    assert "dog 750 to 18000 g mm, likely 4500" in said(capsys)
    pass_table.passes(outcome.passes, "mm")
    assert "by which the bar runs out away from the bit" in said(capsys)


def test_without_readings_it_asks_for_some(
    make_case: MakeCase, capsys: pytest.CaptureFixture[str]
) -> None:
    outcome = chucked(make_case)
    details(outcome, "mm")
    assert "Run-out: none was read, so the bar is taken to run true" in said(capsys)
    assert "run_out" not in behaviour_summary(outcome)
    pass_table.passes(outcome.passes, "mm")
    assert "if the bar runs true at the bit; up to all of an indicator's swing" in said(capsys)


def test_high_spot_that_nobody_looked_for_is_asked_for(
    make_case: MakeCase, capsys: pytest.CaptureFixture[str]
) -> None:
    outcome = chucked(make_case, bar__run_out={"readings": READINGS}, work__start_bore="49.9 mm")
    details(outcome, "mm")
    text = said(capsys)
    assert (
        "true at the tail and swinging most at the drive end: the jaws hold it off centre" in text
    )
    assert "give high_at to correct it." in text
    assert "it does not tire it. A tail off the chuck's line does" in text
    pass_table.passes(outcome.passes, "mm")
    assert "where its high spot lies is not known" in said(capsys)


def test_summary_has_units_in_its_keys_and_bands_before_numbers(make_case: MakeCase) -> None:
    found = behaviour_summary(chucked(make_case, bar__run_out={"readings": READINGS}))
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert list(found) == ["sag_m", "balance", "run_out"]
    assert list(found["balance"]["unbalance_kg_m"]) == ["low", "likely", "high"]
    assert found["balance"]["speeds"][0]["spindle_rpm"] == pytest.approx(120)
    assert found["run_out"]["pattern"] == "off at the drive end"
    assert found["run_out"]["towards_bit_m"]["high"] == pytest.approx(
        found["run_out"]["swing_at_bit_m"]["high"] / 2
    )


def test_readings_that_fit_alike_are_named_in_the_summary(make_case: MakeCase) -> None:
    rows = [{"at": f"{x} mm", "reading": "0.04 mm"} for x in (190, 200, 210)]
    found = behaviour_summary(chucked(make_case, bar__run_out={"readings": rows}))["run_out"]
    assert found["pattern"] == "cannot tell"
    assert "bent" in found["fits_alike"]
    assert "largest_residual_m" not in found


def test_passes_of_an_inch_job_are_said_in_inches_first(
    make_case: MakeCase, capsys: pytest.CaptureFixture[str]
) -> None:
    pass_table.passes(chucked(make_case, work__start_bore="49.9 mm").passes, "inch")
    lines = capsys.readouterr().out.splitlines()
    first = next(line for line in lines if line.startswith("  pass 1"))
    assert " in " in first
    assert " mm" not in first
    assert sum(line.startswith("  pass 1") for line in lines) == 1
