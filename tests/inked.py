"""Where the letters of a drawing lie on the paper, mm."""

from __future__ import annotations

from typing import NamedTuple

from barwright.analysis.lettering import text_width
from barwright.analysis.sheet_blocks import Label

POINT = 25.4 / 72


class Box(NamedTuple):
    left: float
    top: float
    right: float
    bottom: float
    text: str = ""

    def within(self, other: Box, slack: float = 0.05) -> bool:
        return (
            self.left >= other.left - slack
            and self.top >= other.top - slack
            and self.right <= other.right + slack
            and self.bottom <= other.bottom + slack
        )

    def meets(self, other: Box, slack: float = 0.05) -> bool:
        return (
            self.left < other.right - slack
            and other.left < self.right - slack
            and self.top < other.bottom - slack
            and other.top < self.bottom - slack
        )


def ink(label: Label) -> Box:
    """Where a label's letters are, from a little above their feet to most of their height."""
    wide, tall = text_width(label.text, label.points, bold=label.bold), label.points * POINT
    back = {"start": 0.0, "middle": wide / 2, "end": wide}[label.anchor]
    x, y = label.at
    assert label.angle in (0.0, 90.0)
    if label.angle:
        return Box(x - 0.70 * tall, y + back - wide, x, y + back, label.text)
    return Box(x - back, y - 0.70 * tall, x - back + wide, y, label.text)
