from dataclasses import replace
from pathlib import Path

import pytest

from barwright.analysis.casefile import parse_case, read_case_file
from barwright.analysis.errors import CaseError
from barwright.analysis.measured_rows import MeasuredRow, with_measured

CASES = Path(__file__).parents[1] / "cases"
TAIL = "supports.tail.radial_stiffness"
ROWS = (
    MeasuredRow(what=TAIL, value="20.1 N/um (17 to 24)", date="2026-11-25", how="push"),
    MeasuredRow(what="bar.damping_ratio", value="2 % (1 to 3)", date="2026-11-25", how="tap"),
)


def with_text(text: str) -> str:
    source = read_case_file(CASES / "pump_bracket.yaml").source
    return with_measured(parse_case(replace(source, text=text)).source, ROWS).source.text


@pytest.mark.parametrize("path", sorted(CASES.glob("*.yaml")), ids=lambda path: path.stem)
def test_every_line_of_the_case_stays_and_the_rows_count(path: Path) -> None:
    before = read_case_file(path)
    after = with_measured(before.source, ROWS)
    kept = [line for line in after.source.text.splitlines() if "2026-11-25" not in line]
    old = before.source.text.partition("measured:")[0].rstrip().splitlines()
    assert kept[: len(old)] == old
    measured = {one.name for one in after.inputs if one.origin == "measured"}
    assert {row.what for row in ROWS} <= measured
    assert with_measured(after.source, ROWS).source.text == after.source.text


def test_an_older_row_gives_way_and_remarks_stay() -> None:
    text = (CASES / "pump_bracket.yaml").read_text()
    text += "\nmeasured:\n  # by hand\n  - what: " + TAIL + "\n    value: 9 N/um\n"
    text += "  - {what: work.mass, value: 30 kg}\n\n# the end\nlimits:\n  sag: 0.1 mm\n"
    found = with_text(text)
    assert "9 N/um" not in found
    assert "  # by hand\n  - {what: work.mass, value: 30 kg}\n  - {what: " + TAIL in found
    assert found.endswith("\n\n# the end\nlimits:\n  sag: 0.1 mm\n")


def test_a_section_on_one_line_is_refused_with_the_remedy() -> None:
    text = (CASES / "pump_bracket.yaml").read_text()
    text += "\nmeasured: [{what: work.mass, value: 30 kg}]\n"
    with pytest.raises(CaseError, match="measured: write one row a line, each after a dash"):
        with_text(text)
