"""Every shipped case is read, run, and gives the verdict written at its head."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from late_runs import late_run

from barwright.analysis import chatter
from barwright.analysis.casefile import read_case

CASES = sorted((Path(__file__).parents[1] / "cases").glob("*.yaml"))
VERDICT = re.compile(r"^# Verdict: (within|outside) limits(?:, (.+))?\.$", re.MULTILINE)


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_case_gives_the_verdict_at_its_head(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    written = VERDICT.search(path.read_text())
    assert written, f"{path.name} has no verdict"
    # No verdict hangs on where the limits of depth, nose and feed lie.
    monkeypatch.setattr(chatter, "STEPS", 4)
    assert late_run(read_case(path)).within_limits == (written[1] == "within")


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_case_says_what_it_shows_and_where_its_numbers_come_from(path: Path) -> None:
    head = path.read_text().splitlines()[:8]
    assert head[0] == "# yaml-language-server: $schema=barwright.schema.json"
    assert any(line.startswith("# Shows: ") for line in head)
    assert any(line.startswith("# Numbers: ") for line in head)


def test_cases_cover_both_unit_systems_and_every_way_of_holding_a_bar() -> None:
    text = "".join(path.read_text() for path in CASES)
    for needed in ("thou", " in\n", " mm", "chuck", "collet", "dead centre with dog", "steady"):
        assert needed in text, needed


def test_no_two_cases_share_a_setting() -> None:
    titles = [read_case(path).title.split(",")[0] for path in CASES]
    assert len(set(titles)) == len(titles) >= 6
