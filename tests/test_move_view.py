"""Movements of the bar drawn in line: from the side where they show, and as large as they say."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from results_folders import METRIC, write_folder

from barwright.analysis.bar_moves import MOTIONS, Move
from barwright.analysis.case import Case
from barwright.analysis.casefile import read_case
from barwright.analysis.glb import Movement
from barwright.analysis.move_view import move_view
from barwright.analysis.sheet_blocks import Drawing, Label, Line

WIDTH = 190.0


@pytest.fixture
def case(tmp_path: Path) -> Case:
    return read_case(write_folder(tmp_path / "run", METRIC) / "case.yaml")


def bowed(case: Case, part: str, height: float) -> Move:
    """A bar that bows by `height`, m, in one direction: half a sine over its length."""
    x = np.linspace(*case.ends, 101)
    motion = {name: np.zeros_like(x) for name in MOTIONS}
    motion[part] = height * np.sin(np.pi * (x - x[0]) / (x[-1] - x[0]))
    return Move(movement=Movement(name="a bow", swings=True), station=x, motion=motion)


def outlines(drawing: Drawing) -> tuple[Line, Line]:
    """The two thick lines along the bar, the upper one first."""
    thick = [one for one in drawing.strokes if isinstance(one, Line) and one.weight > 0.4]
    along = [one for one in thick if abs(one.points[0][0] - one.points[-1][0]) > 100]
    low, high = sorted(along, key=lambda one: one.points[0][1])
    return low, high


def scale(case: Case) -> float:
    """Millimetres of paper to a metre: four margins of 4 mm beside the bar."""
    return (WIDTH - 16.0) / (case.ends[1] - case.ends[0])


@pytest.mark.parametrize(
    ("part", "view", "way"),
    [("radial", "from the side", 1), ("tangential", "from above", -1)],
)
def test_a_bow_is_seen_where_it_shows_and_to_scale(
    case: Case, part: str, view: str, way: int
) -> None:
    """From above the leading side, where the edge moves to, lies below."""
    drawing = move_view(case, bowed(case, part, 0.03), WIDTH)
    assert f"Seen {view}" in " ".join(
        one.text for one in drawing.strokes if isinstance(one, Label)
    )
    for line in outlines(drawing):
        y = np.array([y for _, y in line.points])
        extreme = y[np.argmax(np.abs(y - y[0]))]
        assert y[0] - extreme == pytest.approx(way * 0.03 * scale(case), rel=1e-3)


def test_the_outlines_are_a_diameter_apart(case: Case) -> None:
    upper, lower = outlines(move_view(case, bowed(case, "radial", 0.02), WIDTH))
    apart = np.array(lower.points)[:, 1] - np.array(upper.points)[:, 1]
    np.testing.assert_allclose(apart, case.bar.diameter * scale(case), rtol=1e-6)


@pytest.mark.parametrize("part", ["radial", "tangential", "along"])
def test_nothing_leaves_the_paper(case: Case, part: str) -> None:
    for height in (0.05, -0.05):
        drawing = move_view(case, bowed(case, part, height), WIDTH)
        for one in drawing.strokes:
            if isinstance(one, Line):
                x, y = np.array(one.points).T
                assert 0 <= x.min() <= x.max() <= drawing.width
                assert 0 <= y.min() <= y.max() <= drawing.height
