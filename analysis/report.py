"""The report: one file that opens offline, with drawings, pictures and scenes inside it.

Everything it needs is in the page: pictures as text, the 3-D scenes as the GLB files that the run
left, and a small viewer of our own that turns them. Its policy lets nothing in from outside and
runs no script but that one, named by its hash.
"""

from __future__ import annotations

import hashlib
from base64 import b64encode
from functools import cache
from importlib.resources import files
from io import BytesIO
from pathlib import Path

from .finished import read_finished
from .report_blocks import Picture, Report, Scene
from .report_content import report_of
from .svg import svg
from .swap import keep
from .templates import template

HTML = "report.html"
LARGEST = 4_000_000
"""Bytes of a page that still goes through the mail; above it pictures get fewer shades."""
_SHADES = 255


def write_report(folder: Path, beside: Path | None = None) -> Path:
    """Write `report.html` into a results folder; its path.

    Parameters
    ----------
    beside
        What the folder will be called, where that is not its name yet.

    Raises
    ------
    WriteError
        It cannot be written; what was there before stays.
    """
    report = report_of(read_finished(folder), beside or folder)
    text = html(report)
    if len(text) > LARGEST:
        text = html(report, few_shades=True)
    return keep(folder / HTML, text.encode("utf-8"))


def html(report: Report, *, few_shades: bool = False) -> str:
    """The page as text."""
    style, script = _part("report.css"), _part("report_viewer.js")
    scenes = {
        part.path.stem: _base64(part.path.read_bytes())
        for section in report.sections
        for part in section.parts
        if isinstance(part, Scene)
    }
    text: str = template("report.html.j2").render(
        report=report,
        style=style,
        script=script,
        style_hash=_hash(style),
        script_hash=_hash(script),
        scenes=scenes,
        picture=lambda one: _inside(one, few_shades=few_shades),
        drawing=svg,
        size_of=size_of,
    )
    return text


def _inside(picture: Picture, *, few_shades: bool) -> str:
    """A picture as an address that holds it."""
    data = picture.path.read_bytes()
    if few_shades:
        data = min(data, _fewer(data), key=len)
    return f"data:image/png;base64,{_base64(data)}"


def _fewer(data: bytes) -> bytes:
    """A picture in fewer shades, half as large as it was."""
    from PIL import Image

    kept = BytesIO()
    with Image.open(BytesIO(data)) as image:
        image.convert("RGB").quantize(_SHADES).save(kept, format="PNG", optimize=True)
    return kept.getvalue()


def size_of(path: Path) -> tuple[int, int]:
    """Width and height of a PNG picture in dots, from its head (ISO/IEC 15948, 11.2.2)."""
    head = path.read_bytes()[16:24]
    return int.from_bytes(head[:4], "big"), int.from_bytes(head[4:], "big")


def _base64(data: bytes) -> str:
    return b64encode(data).decode("ascii")


def _hash(text: str) -> str:
    """How a page's policy names what it lets run (Content Security Policy, level 2)."""
    return "sha256-" + _base64(hashlib.sha256(text.encode("utf-8")).digest())


@cache
def _part(name: str) -> str:
    return (files("barwright.analysis") / name).read_text(encoding="utf-8")
