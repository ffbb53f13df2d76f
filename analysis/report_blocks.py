"""What a report is made of: sections of words, tables, pictures, drawings and scenes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar, Literal

from .sheet_blocks import Drawing


@dataclass(frozen=True, slots=True)
class Said:
    """A paragraph; a `lead` is bold before it."""

    kind: ClassVar[str] = "said"
    text: str
    lead: str = ""


Mark = Literal["ok", "miss", "good", "caution", "avoid"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A table; its first column names the rows.

    Attributes
    ----------
    marks : what stands before each row, by word and shade; none, or one for each row
    numbers : columns set to the right
    words : what it holds, where no heading before it says so
    """

    kind: ClassVar[str] = "grid"
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    marks: tuple[Mark, ...] = ()
    numbers: tuple[int, ...] = ()
    words: str = ""


@dataclass(frozen=True, slots=True)
class Points:
    """A list."""

    kind: ClassVar[str] = "points"
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture by its path, and what it says to those who cannot see it."""

    kind: ClassVar[str] = "picture"
    path: Path
    words: str


@dataclass(frozen=True, slots=True)
class Drawn:
    """A drawing in line."""

    kind: ClassVar[str] = "drawn"
    drawing: Drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A scene that can be turned, from a GLB file.

    Attributes
    ----------
    movements : what can be chosen, if anything moves
    stills : shown in its place where the browser draws no 3-D, and on paper
    """

    kind: ClassVar[str] = "scene"
    path: Path
    words: str
    caption: str
    movements: tuple[str, ...] = ()
    stills: tuple[Picture | Drawn, ...] = ()


@dataclass(frozen=True, slots=True)
class Under:
    """A heading within a section."""

    kind: ClassVar[str] = "under"
    text: str


Part = Said | Grid | Points | Picture | Drawn | Scene | Under


@dataclass(frozen=True, slots=True)
class Section:
    """A section, its name in the address of the page, its heading, and what is in it."""

    name: str
    heading: str
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """The page: what the job is, the answer, why, and the sections that hold it up."""

    title: str
    facts: tuple[tuple[str, str], ...]
    answer: str
    mark: Mark
    lines: tuple[str, ...]
    sections: tuple[Section, ...]
    foot: tuple[str, ...]
