"""Pieces of a report that several of its parts need."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from .finished import Finished
from .report_blocks import Picture
from .sheet_content import times


def picture(finished: Finished, name: str, words: str) -> Iterator[Picture]:
    """A picture of the folder, if it was drawn."""
    path = finished.folder / name
    if path.exists():
        yield Picture(path=path, words=words)


def band_words(band: Mapping[str, float | str]) -> str:
    """Margins, the band first."""
    low, likely, high = (times(band[end]) for end in ("low", "likely", "high"))
    return low if low == high else f"{low} to {high}, likely {likely}"
