"""Lettering of a printed sheet: which letters the paper has, how wide words are, where lines end.

The letters are Helvetica, one of the fourteen fonts that every reader of PDF brings along, so
nothing is embedded and the bytes stay the same. It has the Latin letters of Western Europe
(code page 1252); what it lacks is written with the nearest of those.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from reportlab.pdfbase.pdfmetrics import stringWidth

POINT = 25.4 / 72
"""Millimetres in a printer's point."""
REGULAR, BOLD = "Helvetica", "Helvetica-Bold"
_NEAREST = str.maketrans(
    {
        "\u03bc": "\u00b5",  # Greek mu and the micro sign
        "\u2212": "-",
        "\u2010": "-",
        "\u2011": "-",
        "\u2264": "<=",
        "\u2265": ">=",
        "\u2192": "->",
        "\u2190": "<-",
        "\u2300": "dia ",
        "\u00a0": " ",
        "\u0142": "l",
        "\u0141": "L",
        "\u0111": "d",
        "\u0110": "D",
    }
)
_SOUNDS = (
    "а=a б=b в=v г=g д=d е=e ж=zh з=z и=i к=k л=l м=m н=n о=o п=p р=r с=s т=t у=u ф=f х=h ц=c "
    "ч=ch ш=sh щ=shch ъ= ы=y ь= э=e ю=yu я=ya "
    "α=a β=b γ=g δ=d ε=e ζ=z η=i θ=th ι=i κ=k λ=l μ=m ν=n ξ=x ο=o π=p ρ=r σ=s ς=s τ=t υ=y φ=f "
    "χ=ch ψ=ps ω=o"
)
"""Letters of other alphabets as they sound, near enough to be known again (from memory)."""
_SPELT = {pair[0]: pair[2:] for pair in _SOUNDS.split()}
_MISSING = "?"


def clean(text: str, longest: int = 400) -> str:
    r"""One line of text without control, formatting or half characters, cut at `longest`.

    Examples
    --------
    >>> clean("two\nlines\x07  of \u202etext")
    'two lines of text'
    """
    spaced = " ".join(text.split())
    kept = "".join(c for c in spaced if not unicodedata.category(c).startswith("C"))
    return kept if len(kept) <= longest else kept[: longest - 3].rstrip() + "..."


def printable(text: str) -> str:
    """Text in the letters that the paper has, each missing one by its nearest.

    Examples
    --------
    >>> printable("≤ 5 μm, Łódź, 軸")
    '<= 5 µm, Lódz, ?'
    """
    if text.isascii():
        return text
    return "".join(_nearest(c) for c in text.translate(_NEAREST))


def _nearest(letter: str) -> str:
    if _on_paper(letter):
        return letter
    parts = unicodedata.normalize("NFKD", letter)
    bare = "".join(c if _on_paper(c) else _spelt(c) for c in parts)
    return bare or ("" if unicodedata.combining(letter) or letter.lower() in _SPELT else _MISSING)


def _spelt(letter: str) -> str:
    said = _SPELT.get(letter.lower(), "")
    return said if letter.islower() else said.capitalize()


def _on_paper(letter: str) -> bool:
    try:
        letter.encode("cp1252")
    except UnicodeEncodeError:
        return False
    return True


@lru_cache(maxsize=4096)
def text_width(text: str, points: float, *, bold: bool = False) -> float:
    """Width of a line of text on the paper, mm."""
    return float(stringWidth(printable(text), BOLD if bold else REGULAR, points)) * POINT


class Word(NamedTuple):
    """One word and whether it is bold."""

    text: str
    bold: bool


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of one line, all bold or all not, and where it starts, mm."""

    x: float
    text: str
    bold: bool


_COUNTED = re.compile(r"(?<=\d)\s+(?=[A-Za-z%])")


def words(text: str, *, bold: bool = False) -> list[Word]:
    """Words of a text; a number and what it counts stay together."""
    return [Word(word.replace("\0", " "), bold) for word in _COUNTED.sub("\0", text).split()]


def folded(run: Iterable[Word], points: float, width: float) -> list[list[Piece]]:
    """Words set in lines no wider than `width`, mm; a word too wide for a line is broken."""
    lines: list[list[Word]] = [[]]
    used = 0.0
    space = text_width(" ", points)
    for word in _broken(run, points, width):
        wide = text_width(word.text, points, bold=word.bold)
        if lines[-1] and used + space + wide > width:
            lines.append([])
        used = used + space + wide if lines[-1] else wide
        lines[-1].append(word)
    return [_pieces(line, points, space) for line in lines if line]


def _broken(run: Iterable[Word], points: float, width: float) -> Iterator[Word]:
    """The words, those wider than a line in parts that are not."""
    for word in run:
        rest = word.text
        while len(rest) > 1 and text_width(rest, points, bold=word.bold) > width:
            count = next(
                n
                for n in range(len(rest) - 1, 0, -1)
                if n == 1 or text_width(rest[:n], points, bold=word.bold) <= width
            )
            yield Word(rest[:count], word.bold)
            rest = rest[count:]
        yield Word(rest, word.bold)


def _pieces(line: list[Word], points: float, space: float) -> list[Piece]:
    """Neighbours of one weight joined, each with its place."""
    found: list[Piece] = []
    x = 0.0
    for word in line:
        if found and found[-1].bold == word.bold:
            found[-1] = Piece(found[-1].x, f"{found[-1].text} {word.text}", word.bold)
        else:
            found.append(Piece(x, word.text, word.bold))
        x += text_width(word.text, points, bold=word.bold) + space
    return found


def cut_to(text: str, points: float, width: float, *, bold: bool = False) -> str:
    """Text cut short with dots so that it is no wider than `width`, mm."""
    if text_width(text, points, bold=bold) <= width:
        return text
    while text and text_width(text + "...", points, bold=bold) > width:
        text = text[:-1]
    return text.rstrip() + "..."
