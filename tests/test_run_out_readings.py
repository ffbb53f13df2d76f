from pathlib import Path

import pytest

from barwright.analysis.errors import CaseError
from barwright.analysis.run_out_readings import read_run_out


def _refused(folder: Path, text: str) -> str:
    path = folder / "t.csv"
    path.write_text(text)
    with pytest.raises(CaseError) as refused:
        read_run_out(path)
    return str(refused.value).removeprefix(f"{folder}/")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "at (mm), reading (um), high at (deg)\n10, 5, 20\n90, 5, 625\n",
            "t.csv:3: high at: 625 deg is out of range: this must be at most 360 deg",
        ),
        ("at (m), reading (um)\n900, 5\n", "t.csv:2: at: 900000 mm"),
        ("at (mm), reading (m)\n1, 500\n", "t.csv:2: reading: 500000 mm"),
        ("at (mm), reading (um)\n1, 0 to -2 um\n", "t.csv:2: reading: "),
        ("at (mm), reading (um)\n1, -2\n", "t.csv:2: reading: the full swing"),
        ("indicator: 0 um\nat (mm), reading (um)\n1, 2\n", "t.csv:1: indicator: 0 mm"),
        ("indicator: 1000 m\nat (mm), reading (um)\n1, 2\n", "t.csv:1: indicator: 1000000 mm"),
    ],
)
def test_readings_that_no_case_takes_are_refused_at_their_place(
    tmp_path: Path, text: str, said: str
) -> None:
    assert _refused(tmp_path, text).startswith(said)
