"""What a sheet of paper for the shop is made of: blocks of words, tables, lists and drawings.

Both the printed page and the page for a browser are made from these blocks, so they say the same.
A list that is too long for the paper gives up its last items one by one and says how many.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar, Literal

Anchor = Literal["start", "middle", "end"]
Point = tuple[float, float]
SMALL, BODY, MAIN, TITLE = 7.5, 8.0, 9.5, 14.0
"""Sizes of letters, points."""


@dataclass(frozen=True, slots=True)
class Paper:
    """A size of paper and its margin, mm."""

    name: str
    css_name: str
    width: float
    height: float
    margin: float = 9.0

    @property
    def inner(self) -> tuple[float, float]:
        """Width and height within the margins, mm."""
        return self.width - 2 * self.margin, self.height - 2 * self.margin


A4 = Paper("A4", "A4", 210.0, 297.0)
LETTER = Paper("Letter", "letter", 215.9, 279.4)
"""ISO 216 and ANSI/ASME Y14.1 size A (from memory)."""
PAPERS = {"a4": A4, "letter": LETTER}


# --- drawings --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line through points, mm; closed and filled with a grey (0 black to 1 white) if asked."""

    points: tuple[Point, ...]
    weight: float = 0.2
    dash: tuple[float, ...] = ()
    closed: bool = False
    fill: float | None = None
    grey: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """A circle about a point, mm."""

    centre: Point
    radius: float
    weight: float = 0.2
    dash: tuple[float, ...] = ()
    fill: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A line of text on its base line, mm, turned by an angle against the clock, degrees."""

    at: Point
    text: str
    points: float = SMALL
    anchor: Anchor = "start"
    bold: bool = False
    angle: float = 0.0


Stroke = Line | Circle | Label


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Strokes on a piece of paper, mm to the right and down from its upper left corner.

    Attributes
    ----------
    words : what it shows, for those who cannot see it
    """

    kind: ClassVar[str] = "drawing"
    width: float
    height: float
    strokes: tuple[Stroke, ...]
    words: str = ""


# --- words -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Title:
    """The head of the sheet: what it is for, and what kind of paper it is."""

    kind: ClassVar[str] = "title"
    text: str
    aside: str
    points: float = TITLE


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The answer, and the lines that explain it."""

    kind: ClassVar[str] = "verdict"
    answer: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Fact:
    """A name and what is there; an empty value is a blank to fill in."""

    name: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Facts under a title, one under another or running on in lines; blanks have a width, mm."""

    kind: ClassVar[str] = "facts"
    title: str
    facts: tuple[Fact, ...]
    running: bool = False
    blank: float = 17.0
    points: float = BODY


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell of a table: its text, and the same in other units below; empty: a blank to fill."""

    text: str = ""
    below: str = ""
    bold: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column: its head in lines, and its share of the width."""

    heads: tuple[str, ...]
    share: float
    anchor: Anchor = "start"


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """What all blocks have that may be cut short.

    Attributes
    ----------
    rank : what has the lowest is cut first
    least : how many items stay whatever happens
    left_out : how many were cut
    where : where those are, if not in the files that the foot of the sheet names
    """

    rank: int = 9
    least: int = 1
    left_out: int = 0
    where: str = ""

    @property
    def more(self) -> str:
        """How many items were left out; empty if none."""
        where = f" {self.where}" if self.where else ""
        return f"and {self.left_out} more{where}" if self.left_out else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table(Listed):
    """Rows under heads, ruled; blanks are boxes to write in.

    Attributes
    ----------
    roomy : rows are high enough to write in
    last : how many rows at the end stay when others go
    """

    kind: ClassVar[str] = "table"
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""
    points: float = BODY
    roomy: bool = False
    ruled: bool = True
    last: int = 0

    def shorter(self) -> Table | None:
        """The same with one row less, the one before the `last` rows."""
        if len(self.rows) <= self.least:
            return None
        place = len(self.rows) - 1 - self.last
        rows = (*self.rows[:place], *self.rows[place + 1 :])
        return replace(self, rows=rows, left_out=self.left_out + 1)


@dataclass(frozen=True, slots=True)
class Item:
    """An item of a list, and what is bold at its end."""

    text: str
    strong: str = ""


Mark = Literal["box", "number", "dash"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Items(Listed):
    """A list, each item with a box to tick, a number or a dash."""

    kind: ClassVar[str] = "items"
    title: str
    items: tuple[Item, ...]
    mark: Mark
    points: float = SMALL

    def shorter(self) -> Items | None:
        """The same with one item less."""
        if len(self.items) <= self.least:
            return None
        return replace(self, items=self.items[:-1], left_out=self.left_out + 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Running(Listed):
    """Many small items in running text behind a bold lead."""

    kind: ClassVar[str] = "running"
    lead: str
    items: tuple[str, ...]
    points: float = SMALL
    between: str = "; "

    @property
    def text(self) -> str:
        """The items in one line of text."""
        return self.between.join([*self.items, *([self.more] if self.more else [])]) + "."

    def shorter(self) -> Running | None:
        """The same with one item less."""
        if len(self.items) <= self.least:
            return None
        return replace(self, items=self.items[:-1], left_out=self.left_out + 1)


Words = Title | Verdict | Facts | Table | Items | Running
Block = Words | Drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Columns of blocks side by side, each with its share of the width."""

    columns: tuple[tuple[Block, ...], ...]
    shares: tuple[float, ...] = (1.0,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One page: its paper and its rows from the top down."""

    title: str
    paper: Paper
    rows: tuple[Row, ...]
