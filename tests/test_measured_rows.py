from dataclasses import replace
from math import radians
from pathlib import Path

import pytest

from barwright.analysis.bar import RunOut, RunOutReading
from barwright.analysis.casefile import Source, parse_case, read_case_file
from barwright.analysis.errors import CaseError
from barwright.analysis.measured_rows import MeasuredRow, with_measured, with_run_out
from barwright.analysis.run_out_readings import run_out_lines
from barwright.cli.run_lines import measure_first

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


def test_who_has_pushed_is_not_sent_to_push_again() -> None:
    before = read_case_file(CASES / "pump_bracket.yaml")
    pushed, tapped = with_measured(before.source, ROWS), with_measured(before.source, ROWS[1:])
    assert "push test first" in measure_first(before.case)
    assert "push test first" in measure_first(tapped.case)
    assert measure_first(pushed.case).startswith("the supports were measured")


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


# --- run-out ---------------------------------------------------------------------------------

FOUND = RunOut(
    indicator=10e-6,
    readings=(
        RunOutReading(at=0.020, reading=10e-6, high_at=0.0),
        RunOutReading(at=0.090, reading=80e-6, high_at=radians(20)),
        RunOutReading(at=0.150, reading=20e-6, high_at=radians(10)),
    ),
)


def bar_with(block: str) -> Source:
    """The pump bracket with more under its bar, above the mark of the next section."""
    source = read_case_file(CASES / "pump_bracket.yaml").source
    head, mark, rest = source.text.partition("\ncross_hole:")
    return replace(source, text=head.rstrip() + block + "\n" + mark + rest)


@pytest.mark.parametrize("path", sorted(CASES.glob("*.yaml")), ids=lambda path: path.stem)
def test_run_out_is_read_back_and_every_other_line_stays(path: Path) -> None:
    before = read_case_file(path)
    block = tuple(run_out_lines(FOUND, before.case.own))
    after = with_run_out(before.source, block, "2026-11-30")
    kept = after.case.bar.run_out
    assert kept is not None
    for one, other in zip(kept.readings, FOUND.readings, strict=True):
        assert (one.at, one.reading) == pytest.approx((other.at, other.reading), rel=0.01)
        assert one.high_at == pytest.approx(other.high_at, abs=0.01)
    lines = before.source.text.splitlines()
    if before.case.bar.run_out is None:
        text = iter(after.source.text.splitlines())
        assert all(line in text for line in lines)
    again = with_run_out(after.source, block, "2026-11-30")
    assert again.source.text == after.source.text
    bare = {"run_out": None}
    assert after.case.model_copy(update={"bar": after.case.bar.model_copy(update=bare)}) == (
        before.case.model_copy(update={"bar": before.case.bar.model_copy(update=bare)})
    )


@pytest.mark.parametrize(
    "older",
    [
        "\n  run_out:\n    readings:\n    - {at: 9 mm, reading: 7 um}\n  # kept",
        "\n  run_out: {readings: [{at: 9 mm, reading: 7 um}]}  # old\n  # kept",
        "\n  run_out: {readings: [{at: 9 mm,\n    reading: 7 um}]}\n  # kept",
    ],
)
def test_older_run_out_gives_way_and_what_stands_behind_it_stays(older: str) -> None:
    text = with_run_out(
        bar_with(older), tuple(run_out_lines(FOUND, "mm")), "2026-11-30"
    ).source.text
    assert "reading: 7 um" not in text
    assert "  # kept\n" in text
    assert text.count("run_out:") == 1
    assert "  run_out:  # measured 2026-11-30\n    indicator: 10 um\n    readings:\n" in text


def test_a_bar_on_one_line_is_refused_with_the_remedy() -> None:
    source = read_case_file(CASES / "pump_bracket.yaml").source
    head, _, rest = source.text.partition("\nbar:")
    tail = rest.partition("\ncross_hole:")[2]
    bar = "{material: 1045, diameter: 28 mm, span: 380 mm}"
    flat = replace(source, text=f"{head}\nbar: {bar}\ncross_hole:{tail}")
    with pytest.raises(CaseError, match="bar: write one key a line below it"):
        with_run_out(flat, tuple(run_out_lines(FOUND, "mm")), "2026-11-30")
