"""What a notebook shows of a value in place of its code: a short table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape


def table(title: str, rows: Iterable[Sequence[str]]) -> str:
    """A table as HTML, all words escaped; the first of each row says what the row is.

    Examples
    --------
    >>> table("a < b", [("bar", "30 mm")])
    '<table><caption>a &lt; b</caption><tr><th>bar</th><td>30 mm</td></tr></table>'
    """
    lines = [f"<table><caption>{escape(title)}</caption>"]
    for head, *cells in rows:
        told = "".join(f"<td>{escape(cell)}</td>" for cell in cells)
        lines.append(f"<tr><th>{escape(head)}</th>{told}</tr>")
    return "".join([*lines, "</table>"])
