"""The shop sheet: a printable page made from a finished results folder, with nothing solved.

Where the passes are many, a second page has them all.

`sheet.html` for a browser and `sheet.pdf` for the printer say the same, for they are made of the
same blocks (see `sheet_blocks`), once these have been cut to what the paper holds.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from .finished import Finished, read_finished
from .sheet_blocks import PAPERS, Paper
from .sheet_content import Space, much_left_out, passes_cut, passes_sheet, sheet_of
from .swap import keep
from .typesetting import Page, fits, fitted, set_page

PaperName = Literal["a4", "letter"]
HTML, PDF = "sheet.html", "sheet.pdf"
_SPACES = (
    Space(54.0, 48.0, 8, told=True),
    Space(48.0, 43.0, 8, told=True),
    Space(54.0, 48.0, 8),
    Space(48.0, 43.0, 8),
    Space(40.0, 36.0, 8),
    Space(40.0, 36.0, 3),
)
"""The first with which the least is left out is taken."""
_CRAMPED = Space(34.0, 33.0, 3)
"""Where the words leave no more."""


def paper_of(finished: Finished, name: PaperName | None = None) -> Paper:
    """The paper asked for; else A4 for a metric job and Letter for one in inches."""
    if name is not None:
        return PAPERS[name]
    return PAPERS["a4" if finished.system == "mm" else "letter"]


def page_of(finished: Finished, paper: Paper) -> Page:
    """The sheet of a finished run on a paper, its drawings as large as the words leave them."""
    sheets = [fitted(sheet_of(finished, paper, space)) for space in _SPACES]
    fitting = [sheet for sheet in sheets if fits(sheet)]
    if not fitting:
        return set_page(sheet_of(finished, paper, _CRAMPED))
    return set_page(min(fitting, key=much_left_out))


def pages_of(finished: Finished, paper: Paper) -> tuple[Page, ...]:
    """The sheet, and a page with every pass where the first has no room for them."""
    first = page_of(finished, paper)
    if not passes_cut(first.sheet):
        return (first,)
    return first, set_page(passes_sheet(finished, paper))


def write_sheet(folder: Path, paper: PaperName | None = None) -> Page:
    """Write `sheet.html` and `sheet.pdf` into a results folder.

    Raises
    ------
    WriteError
        A file cannot be written; what was there before stays.
    """
    from .sheet_html import html_text
    from .sheet_pdf import pdf_bytes

    finished = read_finished(folder)
    pages = pages_of(finished, paper_of(finished, paper))
    for name, data in ((HTML, html_text(*pages).encode("utf-8")), (PDF, pdf_bytes(*pages))):
        keep(folder / name, data)
    return pages[0]
