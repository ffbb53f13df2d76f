"""The shop sheet for a browser: one file, no script, nothing fetched, printing on one page."""

from __future__ import annotations

from functools import cache
from typing import Any

from .sheet_blocks import BODY, MAIN, SMALL, Circle, Label, Line, Stroke
from .typesetting import CLOSE, GAP, GUTTER, LEADING, ROOMY, Page

TEMPLATE = "sheet.html.j2"


def html_text(page: Page, *more: Page) -> str:
    """The same blocks as on the printed pages, as HTML with rules for printing."""
    text: str = _template().render(
        sheet=page.sheet,
        sheets=[one.sheet for one in (page, *more)],
        paper=page.sheet.paper,
        small=SMALL,
        body=BODY,
        main=MAIN,
        leading=LEADING,
        row_gap=page.gap,
        gutter=GUTTER,
        least_gap=GAP,
        close=CLOSE,
        roomy=ROOMY,
    )
    return text


@cache
def _template() -> Any:
    # Only here: the templates take as long to load as the rest of the sheet to write.
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("barwright.analysis", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["mm"] = _mm
    environment.filters["shape"] = _shape
    environment.filters["dash"] = lambda dash: " ".join(map(_mm, dash))
    environment.filters["points"] = lambda points: " ".join(
        f"{_mm(x)},{_mm(y)}" for x, y in points
    )
    environment.filters["grey"] = lambda grey: f"#{3 * f'{round(255 * grey):02x}'}"
    return environment.get_template(TEMPLATE)


def _mm(value: float) -> str:
    """A length on the paper: a hundredth of a millimetre is plenty.

    Examples
    --------
    >>> _mm(12.0), _mm(0.125), _mm(-0.001)
    ('12', '0.12', '0')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _shape(stroke: Stroke) -> str:
    """Which kind of stroke it is."""
    return {Line: "line", Circle: "circle", Label: "label"}[type(stroke)]
