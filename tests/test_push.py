from math import cos, radians
from pathlib import Path

import pytest

from barwright.analysis.errors import CaseError
from barwright.analysis.push import read_push

TEXT = """resolution: 0.00005 in
indicator angle: 20 deg
scale error: 1 %
pull at (in), read at (in), way, pull (lbf), reading (thou)
7.3, 7.3, sideways, 0, 0
7.3, 7.3, sideways, 40, 1.0
7.3, 7.3, sideways, 20, 0.6
1, 7.3, up, 0, 0
1, 7.3, up, 50, .3
"""


def test_series_follow_the_place_and_the_way(tmp_path: Path) -> None:
    path = tmp_path / "push.csv"
    path.write_text(TEXT)
    test = read_push(path)
    assert [(s.way, s.on, s.pull.size) for s in test.series] == [
        ("sideways", "bar", 3),
        ("up and down", "bar", 2),
    ]
    first = test.series[0]
    # A lever at 20 degrees shows the movement over cos 20 (0.94), a fact of geometry.
    assert first.reading[1] == pytest.approx(25.4e-6 * cos(radians(20)))
    assert first.returning.tolist() == [0.0, 0.0, 1.0]
    assert test.instruments.scale_error == pytest.approx(0.01)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("resolution: 0.00005 in", "resolution: 0 in", "more than 0"),
        ("resolution: 0.00005 in\n", "", "write above the heading what your indicator can show"),
        ("angle: 20 deg", "angle: 80 deg", "75 degrees"),
        ("1, 7.3, up, 50, .3\n", "", "one pull alone tells nothing"),
    ],
)
def test_what_a_push_test_cannot_be(tmp_path: Path, old: str, new: str, said: str) -> None:
    path = tmp_path / "push.csv"
    path.write_text(TEXT.replace(old, new))
    with pytest.raises(CaseError, match=said):
        read_push(path)
