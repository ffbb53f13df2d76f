"""Figures as they are drawn, for asking what is on them: their words, and whether they collide."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from itertools import combinations
from types import ModuleType
from typing import Any

import pytest
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.text import Text

from barwright.analysis import paper


def watched(monkeypatch: pytest.MonkeyPatch, *modules: ModuleType) -> list[Figure]:
    """Every figure that the modules draw from now on."""
    seen: list[Figure] = []
    real = paper.picture

    @contextmanager
    def watching(*where: Any) -> Iterator[Figure]:
        with real(*where) as figure:
            seen.append(figure)
            yield figure

    for module in modules:
        monkeypatch.setattr(module, "picture", watching)
    return seen


def shown_texts(figure: Figure) -> list[Text]:
    """Texts that are drawn: matplotlib also keeps ticks beyond the end of an axis."""
    beyond = set()
    for axis in figure.findobj(Axis):
        assert isinstance(axis, Axis)
        low, high = sorted(axis.get_view_interval())
        for tick in axis.get_major_ticks():
            if not low <= tick.get_loc() <= high:
                beyond |= {tick.label1, tick.label2}
    return [
        text
        for text in figure.findobj(Text)
        if isinstance(text, Text)
        and text.get_visible()
        and text.get_text().strip()
        and text not in beyond
    ]


def words_on(figure: Figure) -> str:
    """Every word on a figure."""
    return "\n".join(text.get_text() for text in shown_texts(figure))


def texts_stand_clear(figure: Figure) -> None:
    """No text runs into another or off the sheet."""
    width, height = figure.get_size_inches() * figure.dpi
    boxes = [(text.get_text(), text.get_window_extent()) for text in shown_texts(figure)]
    for said, box in boxes:
        assert box.x0 >= 0, said
        assert box.x1 <= width, said
        assert box.y0 >= 0, said
        assert box.y1 <= height, said
    for (one, first), (other, second) in combinations(boxes, 2):
        apart = first.x1 <= second.x0 + 1 or second.x1 <= first.x0 + 1
        above = first.y1 <= second.y0 + 1 or second.y1 <= first.y0 + 1
        assert apart or above, (one, other)
