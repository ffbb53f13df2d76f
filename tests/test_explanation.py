"""Every word that a run prints can be looked up, and so can every key of a case."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
import yaml
from typer.testing import CliRunner

from barwright.analysis.casefile import read_case
from barwright.analysis.explanation import (
    case_keys,
    explained,
    names_known,
    near,
    words,
)
from barwright.analysis.inputs import inputs
from barwright.analysis.limits import Limits
from barwright.analysis.run import analyse
from barwright.cli.app import STATUS, app

FOLDER = Path(__file__).parents[1] / "cases"
CASES = [FOLDER / f"{name}.yaml" for name in ("pump_bracket", "hinge_knuckle", "mill_gearcase")]
cli = CliRunner()


def test_every_finding_of_a_run_is_explained() -> None:
    for finding in analyse(read_case(FOLDER / "hinge_knuckle.yaml")).findings:
        (found,) = explained(finding.what)
        assert found.means
        assert found.found


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_every_value_that_check_lists_is_explained(path: Path) -> None:
    for entry in inputs(read_case(path)):
        key = re.sub(r"\[\d+\]", "", entry.name)
        assert any(key in found.name for found in explained(key)), key


def test_every_limit_is_held_by_a_word() -> None:
    asked = " ".join(word.asked for word in words())
    for name in Limits.model_fields:
        assert f"`limits.{name}`" in asked


def test_no_two_words_go_by_the_same_name() -> None:
    said = [name.lower() for word in words() for name in (word.name, *word.also)]
    assert sorted(said) == sorted(set(said))


def test_every_key_of_a_case_says_something() -> None:
    assert len(case_keys()) > 150
    for key in case_keys():
        assert all(found.means for found in explained(key)), key


@pytest.mark.parametrize(
    ("key", "guess"),
    [
        ("work.mass", "40 kg (15 to 120)"),
        ("supports.drive.dog_mass", "0.3 kg (0.15 to 0.6)"),
        ("limits.separation", "15 %"),
    ],
)
def test_a_default_is_told_with_its_range(key: str, guess: str) -> None:
    # the ranges stand in the guesses that a run lists, and in the entries themselves
    assert guess in explained(key)[0].asked


def test_a_support_s_default_is_told_kind_by_kind() -> None:
    asked = explained("supports.drive.tilt_stiffness")[0].asked
    assert "in a chuck 30 kN.m/rad" in asked
    assert "elsewhere 0 kN.m/rad" in asked


def test_the_exit_statuses_are_those_of_the_help() -> None:
    (found,) = explained("exit status")
    numbers = re.findall(r"\b\d+\b", STATUS)
    assert re.findall(r"\b\d+\b", found.means) == numbers


def test_capitals_dashes_and_underscores_do_not_matter() -> None:
    assert explained("GAIN-margin") == explained("gain_margin") == explained("gain  margin")


def test_what_nobody_knows_gives_nothing_but_a_near_name() -> None:
    assert explained("gane margin") == ()
    assert "gain margin" in near("gane margin")
    assert explained("") == explained("  ") == ()
    assert near("") == ()


def test_the_command_explains_a_word() -> None:
    done = cli.invoke(app, ["explain", "gain", "margin"])
    assert done.exit_code == 0
    assert done.output.startswith("gain margin against chatter\n")
    assert "limits.chatter_margin" in done.output
    assert all(len(line) < 101 for line in done.output.splitlines())
    brief = cli.invoke(app, ["explain", "gain", "margin", "-q"])
    assert "limits.chatter_margin" not in brief.output


def test_the_command_lists_its_words_and_prints_json() -> None:
    listed = cli.invoke(app, ["explain"])
    assert listed.exit_code == 0
    for word in words():
        assert word.name in listed.output
    told = json.loads(cli.invoke(app, ["explain", "--json", "sag"]).output)
    assert told["words"][0]["name"] == "sag of the bar at the bit"


def test_the_command_refuses_a_word_that_nobody_knows() -> None:
    done = cli.invoke(app, ["explain", "gane", "margin"])
    assert done.exit_code == 2
    assert "did you mean gain margin" in done.output
    hostile = cli.invoke(app, ["explain", "\x1b[31m[/]"])
    assert hostile.exit_code == 2
    assert "\x1b" not in hostile.output


def test_the_shell_is_offered_every_word_and_key() -> None:
    assert {"gain margin", "bar.span", "supports.tail.kind"} & set(names_known())
    file = Path(__file__).parents[1] / "analysis" / "explanations.yaml"
    assert set(yaml.safe_load(file.read_text(encoding="utf-8"))) <= set(names_known())
