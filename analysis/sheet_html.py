"""The shop sheet for a browser: one file, no script, nothing fetched, printing on one page."""

from __future__ import annotations

from .sheet_blocks import BODY, MAIN, SMALL
from .svg import mm, svg
from .templates import template
from .typesetting import CLOSE, GAP, GUTTER, LEADING, ROOMY, Page


def html_text(page: Page, *more: Page) -> str:
    """The same blocks as on the printed pages, as HTML with rules for printing."""
    text: str = template("sheet.html.j2").render(
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
        mm=mm,
        drawing=svg,
    )
    return text
