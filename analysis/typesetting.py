"""Blocks set on a page: where each line of text, rule and box goes, and what must be left out.

Every block becomes strokes in a box as wide as its column. Rows of columns are put one under
another; if the page is too short, the lists give up their least items; if there is room to spare,
it goes between the rows.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import accumulate, pairwise
from typing import TypeVar

from .lettering import POINT, Piece, Word, cut_to, folded, text_width, words
from .sheet_blocks import (
    BODY,
    MAIN,
    SMALL,
    Block,
    Cell,
    Column,
    Drawing,
    Facts,
    Items,
    Label,
    Line,
    Listed,
    Point,
    Row,
    Running,
    Sheet,
    Stroke,
    Table,
    Title,
    Verdict,
    Words,
)

LEADING = 1.18
"""From one line of text to the next over the size of its letters."""
GAP, CLOSE, GUTTER = 1.3, 0.3, 5.0
"""Least room between blocks of a column, between running texts, and between columns, mm."""
ROOMY = 5.8
"""Least height of a row to write in, mm."""
SPARE = 2.5
"""Height kept free, for letters and rules of a browser are a little higher, mm."""
_ASCENT = 0.76
_RULE, _FRAME = 0.13, 0.3
_PAD = 0.7
_Any = TypeVar("_Any")


@dataclass(frozen=True, slots=True)
class Placed:
    """A block on the page, set in its box, its upper left corner at `at`, mm."""

    block: Block
    at: Point
    drawing: Drawing


@dataclass(frozen=True, slots=True)
class Page:
    """A sheet that fits its paper, where its blocks are, and the room between its rows, mm."""

    sheet: Sheet
    placed: tuple[Placed, ...]
    gap: float

    @property
    def strokes(self) -> tuple[Stroke, ...]:
        """Everything on the page, mm from its upper left corner."""
        return tuple(
            moved(stroke, one.at) for one in self.placed for stroke in one.drawing.strokes
        )


def moved(stroke: Stroke, by: Point) -> Stroke:
    """A stroke shifted on the paper."""
    if isinstance(stroke, Label):
        return replace(stroke, at=_plus(stroke.at, by))
    if isinstance(stroke, Line):
        return replace(stroke, points=tuple(_plus(point, by) for point in stroke.points))
    return replace(stroke, centre=_plus(stroke.centre, by))


def _plus(point: Point, by: Point) -> Point:
    return point[0] + by[0], point[1] + by[1]


# --- lines of text ---------------------------------------------------------------------------


def line_height(points: float) -> float:
    """From one line of text to the next, mm."""
    return LEADING * points * POINT


def _base(points: float) -> float:
    """From the top of a line to its base line, mm."""
    return _ASCENT * LEADING * points * POINT + 0.12 * points * POINT


def _text(lines: Sequence[Sequence[Piece]], points: float, at: Point) -> list[Stroke]:
    """Lines of text from `at` down."""
    step, base = line_height(points), _base(points)
    return [
        Label(
            at=(at[0] + piece.x, at[1] + base + k * step),
            text=piece.text,
            points=points,
            bold=piece.bold,
        )
        for k, line in enumerate(lines)
        for piece in line
    ]


def _paragraph(
    run: Iterable[Word], points: float, at: Point, width: float
) -> tuple[list[Stroke], float]:
    """Words in lines from `at` down, and how high they stand."""
    lines = folded(run, points, width)
    return _text(lines, points, at), len(lines) * line_height(points)


def _headed(title: str, width: float) -> tuple[list[Stroke], float]:
    """A block's title with a rule under it; nothing for none."""
    if not title:
        return [], 0.0
    lines, height = _paragraph(words(title, bold=True), MAIN - 0.5, (0.0, 0.0), width)
    rule = Line(points=((0.0, height + 0.2), (width, height + 0.2)), weight=_FRAME)
    return [*lines, rule], height + 0.9


# --- blocks ----------------------------------------------------------------------------------


def set_block(block: Block, width: float) -> Drawing:
    """A block in a box of the given width, mm."""
    return block if isinstance(block, Drawing) else _set_words(block, width)


@lru_cache(maxsize=2048)
def _set_words(block: Words, width: float) -> Drawing:
    match block:
        case Title():
            return _title(block, width)
        case Verdict():
            return _verdict(block, width)
        case Facts():
            return _facts(block, width)
        case Table():
            return _table(block, width)
        case Items():
            return _items(block, width)
        case Running():
            return _running(block, width)


def _title(block: Title, width: float) -> Drawing:
    text = cut_to(block.text, block.points, title_room(block.aside, width), bold=True)
    base = _base(block.points)
    strokes: list[Stroke] = [
        Label(at=(0.0, base), text=text, points=block.points, bold=True),
        Label(at=(width, base), text=block.aside, points=BODY, anchor="end"),
    ]
    return Drawing(width=width, height=line_height(block.points), strokes=tuple(strokes))


def title_room(aside: str, width: float) -> float:
    """What is left for a title beside its aside, mm."""
    return width - text_width(aside, BODY) - 5.0


def _verdict(block: Verdict, width: float) -> Drawing:
    inner = width - 4.0
    strokes, height = _paragraph(words(block.answer, bold=True), 12.0, (2.0, 1.0), inner)
    height += 1.2
    for line in block.lines:
        more, tall = _paragraph(words(line), BODY + 0.5, (2.0, height), inner)
        strokes += more
        height += tall
    height += 0.9
    frame = ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))
    box = Line(points=frame, closed=True, weight=0.6)
    return Drawing(width=width, height=height, strokes=(box, *strokes))


def _facts(block: Facts, width: float) -> Drawing:
    strokes, height = _headed(block.title, width)
    if block.running:
        return _running_facts(block, width, strokes, height)
    for fact in block.facts:
        run = [*words(f"{fact.name}:", bold=True), *words(fact.value)]
        more, tall = _paragraph(run, block.points, (0.0, height), width)
        strokes += more
        height += tall + 0.3
    return Drawing(width=width, height=height, strokes=tuple(strokes))


def _running_facts(block: Facts, width: float, strokes: list[Stroke], height: float) -> Drawing:
    """Facts one behind another in lines; a blank is a rule to write on."""
    step, base = line_height(block.points) + 0.5, _base(block.points)
    x = 0.0
    for fact in block.facts:
        name = f"{fact.name}: "
        lead = text_width(name, block.points, bold=True)
        room = text_width(fact.value, block.points) if fact.value else block.blank
        if x > 0 and x + lead + room > width:
            x, height = 0.0, height + step
        value = cut_to(fact.value, block.points, width - x - lead)
        strokes.append(Label(at=(x, height + base), text=name, points=block.points, bold=True))
        if value:
            strokes.append(Label(at=(x + lead, height + base), text=value, points=block.points))
        else:
            ends = ((x + lead, height + base + 0.4), (x + lead + room, height + base + 0.4))
            strokes.append(Line(points=ends, weight=_RULE))
        x += lead + room + 3.0
    return Drawing(width=width, height=height + step, strokes=tuple(strokes))


def _table(block: Table, width: float) -> Drawing:
    strokes, height = _headed(block.title, width)
    top = height
    whole = sum(column.share for column in block.columns)
    edges = [0.0, *accumulate(width * column.share / whole for column in block.columns)]
    heads = [Cell(" ".join(column.heads)) for column in block.columns]
    if any(head.text for head in heads):
        more, tall = _row(heads, block.columns, edges, SMALL, height)
        strokes += more
        height += tall
        strokes.append(Line(points=((0.0, height), (width, height)), weight=_FRAME))
    for row in block.rows:
        more, tall = _row(row, block.columns, edges, block.points, height)
        tall = max(tall, ROOMY) if block.roomy else tall
        strokes += more
        height += tall
        if block.ruled:
            strokes.append(Line(points=((0.0, height), (width, height)), weight=_RULE))
    if block.ruled:
        strokes += [Line(points=((x, top), (x, height)), weight=_RULE) for x in edges]
        strokes.append(Line(points=((0.0, top), (width, top)), weight=_RULE))
    for note in (block.more, block.note):
        more, tall = _paragraph(words(note), SMALL, (0.0, height + 0.3), width)
        strokes += more
        height += tall + (0.3 if tall else 0.0)
    return Drawing(width=width, height=height, strokes=tuple(strokes))


def _row(
    cells: Sequence[Cell],
    columns: Sequence[Column],
    edges: Sequence[float],
    points: float,
    top: float,
) -> tuple[list[Stroke], float]:
    """Cells of a row at `top`, and how high the row is."""
    strokes: list[Stroke] = []
    tallest = line_height(points) + _PAD
    for k, (cell, column) in enumerate(zip(cells, columns, strict=True)):
        left, right = edges[k] + _PAD, edges[k + 1] - _PAD
        lines = folded(words(cell.text, bold=cell.bold), points, right - left)
        small = folded(words(cell.below), SMALL, right - left)
        tall = len(lines) * line_height(points)
        for part, size, y in ((lines, points, top), (small, SMALL, top + tall)):
            shifted = [_aligned(line, size, column, left, right) for line in part]
            strokes += _text(shifted, size, (0.0, y + _PAD / 2))
        tallest = max(tallest, tall + len(small) * line_height(SMALL) + _PAD)
    return strokes, tallest


def _aligned(
    line: Sequence[Piece], points: float, column: Column, left: float, right: float
) -> list[Piece]:
    """The pieces of a line put to the left, middle or right of a column."""
    last = line[-1]
    wide = last.x + text_width(last.text, points, bold=last.bold)
    spare = right - left - wide
    shift = left + {"start": 0.0, "middle": spare / 2, "end": spare}[column.anchor]
    return [replace(piece, x=piece.x + shift) for piece in line]


def _items(block: Items, width: float) -> Drawing:
    strokes, height = _headed(block.title, width)
    indent = {"box": 4.0, "number": 4.0, "dash": 0.0}[block.mark]
    for number, item in enumerate(block.items, start=1):
        strokes += _mark(block, number, height)
        run = [*words(item.text), *words(item.strong, bold=True)]
        more, tall = _paragraph(run, block.points, (indent, height), width - indent)
        strokes += more
        height += tall + 0.35
    more, tall = _paragraph(words(block.more), SMALL, (indent, height), width - indent)
    return Drawing(width=width, height=height + tall, strokes=(*strokes, *more))


def _mark(block: Items, number: int, top: float) -> list[Stroke]:
    """A box to tick, or a number."""
    base = top + _base(block.points)
    if block.mark == "number":
        return [Label(at=(0.0, base), text=f"{number}.", points=block.points, bold=True)]
    if block.mark == "dash":
        return []
    side = 2.4
    corners = ((0.3, base), (0.3 + side, base), (0.3 + side, base - side), (0.3, base - side))
    return [Line(points=corners, closed=True, weight=0.25)]


def _running(block: Running, width: float) -> Drawing:
    run = [*words(block.lead, bold=True), *words(block.text)]
    strokes, height = _paragraph(run, block.points, (0.0, 0.0), width)
    return Drawing(width=width, height=height, strokes=tuple(strokes))


# --- the page --------------------------------------------------------------------------------


def _widths(row: Row, width: float) -> list[float]:
    whole = sum(row.shares)
    free = width - GUTTER * (len(row.columns) - 1)
    return [free * share / whole for share in row.shares]


def _column_height(blocks: Sequence[Block], width: float) -> float:
    tall = [set_block(block, width).height for block in blocks]
    return sum(tall) + sum(_gap(*pair) for pair in pairwise(blocks))


def _gap(one: Block, other: Block) -> float:
    return CLOSE if isinstance(one, Running) and isinstance(other, Running) else GAP


def _row_height(row: Row, width: float) -> float:
    columns = zip(row.columns, _widths(row, width), strict=True)
    return max(_column_height(column, wide) for column, wide in columns)


def height_of(sheet: Sheet) -> float:
    """How high the sheet stands with the least room between its rows, mm."""
    width = sheet.paper.inner[0]
    tall = [_row_height(row, width) for row in sheet.rows]
    return sum(tall) + GAP * max(0, len(tall) - 1)


def fits(sheet: Sheet) -> bool:
    """Whether the sheet fits its paper, with a little to spare for a browser's own letters."""
    return height_of(sheet) <= sheet.paper.inner[1] - SPARE


def fitted(sheet: Sheet) -> Sheet:
    """The sheet with the least of its lists left out until it fits its paper."""
    cut = _cut_down(sheet)
    if not fits(cut):
        cut = _cut_down(_yielding(cut))
    return _refilled(cut, sheet) if fits(cut) else cut


def _cut_down(sheet: Sheet) -> Sheet:
    """The sheet with item after item left out until it fits, or no list may be shorter."""
    while not fits(sheet):
        cut = _cut(sheet)
        if cut is None:
            break
        sheet = cut
    return sheet


def _yielding(sheet: Sheet) -> Sheet:
    """The sheet with lists that give up all but one item, for want of any other way."""
    rows = (
        replace(row, columns=tuple(tuple(map(_yielded, column)) for column in row.columns))
        for row in sheet.rows
    )
    return replace(sheet, rows=tuple(rows))


def _yielded(block: Block) -> Block:
    return replace(block, least=1) if isinstance(block, Items) else block


def _refilled(sheet: Sheet, whole: Sheet) -> Sheet:
    """What matters most put back where a cut below it has made room in the meantime."""
    places = [
        (-block.rank, number, column, k)
        for number, row in enumerate(sheet.rows)
        for column, blocks in enumerate(row.columns)
        for k, block in enumerate(blocks)
        if isinstance(block, Listed)
    ]
    for _, number, column, k in sorted(places):
        sheet = _filled(sheet, whole, (number, column, k))
    return sheet


def _filled(sheet: Sheet, whole: Sheet, place: tuple[int, int, int]) -> Sheet:
    """The sheet with as much of one list as there is room for."""
    number, column, k = place
    now, full = (one.rows[number].columns[column][k] for one in (sheet, whole))
    while isinstance(full, (Table, Items, Running)) and full != now:
        filled = _with(sheet, place, full)
        if fits(filled):
            return filled
        shorter = full.shorter()
        if shorter is None:
            break
        full = shorter
    return sheet


def _cut(sheet: Sheet) -> Sheet | None:
    """The sheet with one item less, of the list that matters least where it saves height."""
    width = sheet.paper.inner[0]
    places = [
        (block.rank, -len(_items_of(block)), number, column, k)
        for number, row in enumerate(sheet.rows)
        for column in _tallest(row, width)
        for k, block in enumerate(row.columns[column])
        if isinstance(block, (Table, Items, Running)) and block.shorter() is not None
    ]
    if not places:
        return None
    _, _, number, column, k = min(places)
    block = sheet.rows[number].columns[column][k]
    assert isinstance(block, (Table, Items, Running))
    shorter = block.shorter()
    assert shorter is not None
    return _with(sheet, (number, column, k), shorter)


def _with(sheet: Sheet, place: tuple[int, int, int], block: Block) -> Sheet:
    """The sheet with another block at a place: row, column, number in the column."""
    number, column, k = place
    row = sheet.rows[number]
    blocks = _swapped(row.columns[column], k, block)
    new = replace(row, columns=_swapped(row.columns, column, blocks))
    return replace(sheet, rows=_swapped(sheet.rows, number, new))


def _items_of(block: Listed) -> Sequence[object]:
    return block.rows if isinstance(block, Table) else getattr(block, "items", ())


def _tallest(row: Row, width: float) -> list[int]:
    """Columns of a row that decide its height."""
    tall = [
        _column_height(column, wide)
        for column, wide in zip(row.columns, _widths(row, width), strict=True)
    ]
    return [k for k, one in enumerate(tall) if one > max(tall) - 0.1]


def _swapped(found: tuple[_Any, ...], place: int, new: _Any) -> tuple[_Any, ...]:
    return (*found[:place], new, *found[place + 1 :])


def set_page(sheet: Sheet) -> Page:
    """The sheet cut to its paper, each block in its place; spare room goes between the rows."""
    sheet = fitted(sheet)
    paper = sheet.paper
    width, room = paper.inner
    spare = max(0.0, room - SPARE - height_of(sheet))
    gap = GAP + min(3.0, spare / max(1, len(sheet.rows) - 1))
    placed: list[Placed] = []
    y = paper.margin
    for row in sheet.rows:
        x = paper.margin
        for blocks, wide in zip(row.columns, _widths(row, width), strict=True):
            placed += _stacked(blocks, wide, (x, y))
            x += wide + GUTTER
        y += _row_height(row, width) + gap
    return Page(sheet, tuple(placed), gap)


def _stacked(blocks: Sequence[Block], width: float, at: Point) -> list[Placed]:
    """Blocks one under another from `at` down."""
    found: list[Placed] = []
    y = at[1]
    for k, block in enumerate(blocks):
        y += _gap(blocks[k - 1], block) if k else 0.0
        drawing = set_block(block, width)
        found.append(Placed(block, (at[0], y), drawing))
        y += drawing.height
    return found
