"""A drawing of strokes as SVG, in millimetres of paper."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from .lettering import printable, text_width
from .sheet_blocks import Circle, Drawing, Label, Line, Stroke

_POINT = 25.4 / 72
_FAMILY = "Liberation Sans, Arial, Helvetica, sans-serif"


def svg(drawing: Drawing, *, alone: bool = False, sized: bool = False) -> str:
    """A drawing as an `svg` element; `alone` as a file of its own, with a white ground.

    A page's own rules say how large it is, unless it is `sized`: then as large as on paper.
    """
    width, height = mm(drawing.width), mm(drawing.height)
    head = f'viewBox="0 0 {width} {height}" role="img" aria-label="{_text(drawing.words)}"'
    if alone or sized:
        head = f'width="{width}mm" height="{height}mm" {head}'
    if alone:
        head = f'xmlns="http://www.w3.org/2000/svg" {head}'
    lines = [f'<svg {head} font-family="{_FAMILY}">']
    if alone:
        lines.append(f"<title>{_text(drawing.words)}</title>")
        lines.append(f'<rect width="{width}" height="{height}" fill="#fff"/>')
    lines += [_element(stroke) for stroke in drawing.strokes]
    return "\n".join([*lines, "</svg>"]) + "\n"


def mm(value: float) -> str:
    """A length on the paper: a hundredth of a millimetre is plenty.

    Examples
    --------
    >>> mm(12.0), mm(0.125), mm(-0.001)
    ('12', '0.12', '0')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _text(text: str) -> str:
    """Text of the user as XML allows it: escaped, with no control characters."""
    return escape("".join(c if c.isprintable() else " " for c in text), quote=True)


def _grey(grey: float | None) -> str:
    return "none" if grey is None else "#" + 3 * f"{round(255 * grey):02x}"


def _dash(dash: Iterable[float]) -> str:
    lengths = " ".join(map(mm, dash))
    return f' stroke-dasharray="{lengths}"' if lengths else ""


def _element(one: Stroke) -> str:
    if isinstance(one, Line):
        name = "polygon" if one.closed else "polyline"
        points = " ".join(f"{mm(x)},{mm(y)}" for x, y in one.points)
        return (
            f'<{name} points="{points}" fill="{_grey(one.fill)}" stroke="{_grey(one.grey)}" '
            f'stroke-width="{mm(one.weight)}"{_dash(one.dash)}/>'
        )
    if isinstance(one, Circle):
        return (
            f'<circle cx="{mm(one.centre[0])}" cy="{mm(one.centre[1])}" r="{mm(one.radius)}" '
            f'fill="{_grey(one.fill)}" stroke="#000" stroke-width="{mm(one.weight)}"'
            f"{_dash(one.dash)}/>"
        )
    return _words(one)


def _words(one: Label) -> str:
    """Words as wide as they were measured, in whatever face the machine has for them."""
    x, y = (mm(value) for value in one.at)
    turn = f' transform="rotate({mm(-one.angle)} {x} {y})"' if one.angle else ""
    bold = ' font-weight="bold"' if one.bold else ""
    room = ""
    if one.text.strip() and printable(one.text) == one.text:
        wide = mm(text_width(one.text, one.points, bold=one.bold))
        room = f' textLength="{wide}" lengthAdjust="spacingAndGlyphs"'
    return (
        f'<text x="{x}" y="{y}" font-size="{mm(one.points * _POINT)}" '
        f'text-anchor="{one.anchor}"{bold}{turn}{room}>{_text(one.text)}</text>'
    )
