"""A page as PDF: the strokes of its blocks in black on white, the same bytes every time.

ReportLab writes it: a pure wheel that starts in a twentieth of a second. Its fonts are those
every reader has; its invariant mode leaves out clock and chance.
"""

from __future__ import annotations

from io import BytesIO
from math import cos, radians, sin
from typing import Any

from reportlab.pdfgen.canvas import Canvas

from .lettering import BOLD, POINT, REGULAR, printable, text_width
from .sheet_blocks import Circle, Label, Line, Stroke
from .typesetting import Page


def pdf_bytes(page: Page, *more: Page) -> bytes:
    """The page, and any that follow it, as a PDF file."""
    paper = page.sheet.paper
    size = (paper.width / POINT, paper.height / POINT)
    file = BytesIO()
    canvas: Any = Canvas(file, pagesize=size, invariant=1, pageCompression=1)
    canvas.setTitle(printable(page.sheet.title))
    canvas.setAuthor("barwright")
    canvas.setSubject("shop sheet")
    canvas.setLineJoin(1)
    for one in (page, *more):
        for stroke in one.strokes:
            _draw(canvas, stroke, paper.height)
        canvas.showPage()
    canvas.save()
    return file.getvalue()


def _draw(canvas: Any, stroke: Stroke, height: float) -> None:
    if isinstance(stroke, Label):
        _label(canvas, stroke, height)
        return
    canvas.setLineWidth(stroke.weight / POINT)
    canvas.setDash([part / POINT for part in stroke.dash])
    if stroke.fill is not None:
        canvas.setFillGray(stroke.fill)
    if isinstance(stroke, Line):
        _line(canvas, stroke, height)
    else:
        _circle(canvas, stroke, height)


def _line(canvas: Any, line: Line, height: float) -> None:
    canvas.setStrokeGray(line.grey)
    path = canvas.beginPath()
    for k, (x, y) in enumerate(line.points):
        (path.moveTo if k == 0 else path.lineTo)(x / POINT, (height - y) / POINT)
    if line.closed:
        path.close()
    canvas.drawPath(path, stroke=1, fill=int(line.fill is not None))


def _circle(canvas: Any, circle: Circle, height: float) -> None:
    (x, y), fill = circle.centre, int(circle.fill is not None)
    canvas.setStrokeGray(0.0)
    canvas.circle(x / POINT, (height - y) / POINT, circle.radius / POINT, stroke=1, fill=fill)


def _label(canvas: Any, label: Label, height: float) -> None:
    text = printable(label.text)
    wide = text_width(text, label.points, bold=label.bold)
    back = {"start": 0.0, "middle": wide / 2, "end": wide}[label.anchor]
    turn = radians(label.angle)
    x, y = label.at[0], height - label.at[1]
    canvas.setFillGray(0.0)
    canvas.setFont(BOLD if label.bold else REGULAR, label.points)
    canvas.saveState()
    canvas.translate((x - back * cos(turn)) / POINT, (y - back * sin(turn)) / POINT)
    canvas.rotate(label.angle)
    canvas.drawString(0, 0, text)
    canvas.restoreState()
