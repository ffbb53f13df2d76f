from pathlib import Path

import pytest

from barwright.analysis.errors import CaseError
from barwright.analysis.shop_table import Column, ShopTable, read_shop_table

COLUMNS = (
    Column("pull", "force", ("load",), needed=True),
    Column("reading", "length", needed=True),
    Column("way", words={"sideways": "sideways", "up": "up"}),
)
SETTINGS = (Column("resolution", "length"),)


def read(folder: Path, text: str, name: str = "t.csv") -> ShopTable:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return read_shop_table(path, COLUMNS, SETTINGS)


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_separators_and_units_of_the_heading(tmp_path: Path, mark: str) -> None:
    table = read(tmp_path, f"pull (lbf){mark}reading (thou)\n20{mark}1\n40{mark}2 um\n")
    assert [row["pull"] for row in table.rows] == pytest.approx([88.9644323, 177.9288646])
    # A unit in the cell goes before the heading's.
    assert [row["reading"] for row in table.rows] == pytest.approx([25.4e-6, 2e-6])


def test_decimal_commas_stand_between_semicolons(tmp_path: Path) -> None:
    table = read(tmp_path, "load (N); reading (mm)\n100,5; 0,02\n")
    assert table.rows[0] == {"pull": pytest.approx(100.5), "reading": pytest.approx(2e-5)}


def test_settings_remarks_and_empty_lines_above_the_heading(tmp_path: Path) -> None:
    text = "# sideways\n\nresolution: 0.5 thou\npull (N),reading (um),way\n10,1,Sideways\n,,\n"
    table = read(tmp_path, text)
    assert table.settings == {"resolution": pytest.approx(12.7e-6)}
    assert table.rows[0]["way"] == "sideways"
    assert table.lines == (5,)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("pull (N),readng (um)\n1,2\n", ["t.csv:1: readng (um): ", "did you mean reading?"]),
        ("pull (N),way\n1,up\n", ["t.csv:1: reading: this column is missing"]),
        ("pull,reading (um)\n1,2\n", ["t.csv:2: pull: `1` has no unit", "in the heading"]),
        ("pull (mm),reading (um)\n1,2\n", ["t.csv:2: pull: `1 mm` is a length"]),
        ("pull (N),reading (um)\n1,2,5\n", ["t.csv:2: ", "3 cells", "semicolons"]),
        ("pull (N),reading (um)\n1\n", ["t.csv:2: reading: nothing is written here"]),
        ("pull (N),reading (um),way\n1,2,left\n", ["t.csv:2: way: `left` is none of sideways"]),
        ("pull (N),pull (N),reading (um)\n", ["t.csv:1: pull: this column is there twice"]),
        ("some words\n", ["t.csv: no heading was found", "pull (N)"]),
        ("pull (N),reading (um)\n", ["t.csv: there is no reading"]),
        ("resolusion: 1 um\npull (N),reading (um)\n1,1\n", ["t.csv:1: ", "resolution?"]),
    ],
)
def test_a_wrong_file_is_told_where_and_what_would_be_right(
    tmp_path: Path, text: str, said: list[str]
) -> None:
    with pytest.raises(CaseError) as caught:
        read(tmp_path, text)
    message = str(caught.value)
    assert all(part in message for part in said), message


def test_every_problem_of_a_file_is_told_together(tmp_path: Path) -> None:
    with pytest.raises(CaseError) as caught:
        read(tmp_path, "pull (N),reading (um)\nx,2\n3,y\n")
    assert len(caught.value.problems) == 2


def test_words_of_the_file_cannot_steer_a_terminal(tmp_path: Path) -> None:
    with pytest.raises(CaseError) as caught:
        read(tmp_path, "pull (N),reading (um),\x1b[31mred\n1,2,3\n")
    assert "\x1b" not in str(caught.value)
