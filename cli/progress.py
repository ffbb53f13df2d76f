"""A sign of life on a terminal while something long is worked on; nothing in a pipe.

It stands on standard error, comes after half a second, and is gone before anything is printed.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from multiprocessing import parent_process
from threading import Event, Thread
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console

PATIENCE = 0.5
"""Seconds before a sign is wanted."""
TICK = 0.1
_doing: list[Progress] = []
"""What is being worked on, the innermost last: one line tells of it all."""


class Progress:
    """What is being worked on, and how far it is.

    Attributes
    ----------
    what : in words, such as ``solving the solid``
    of : how many there are to do; 0 where that is not known
    done : how many are done
    """

    def __init__(self, what: str, of: int = 0) -> None:
        self.what = what
        self.of = of
        self.done = 0
        self._began = time.monotonic()

    def line(self) -> str:
        """The line as it is shown."""
        count = f": {self.done} of {self.of} done" if self.of else ""
        return f"{self.what}{count}, {time.monotonic() - self._began:.0f} s"


@contextmanager
def working(what: str, of: int = 0) -> Iterator[Progress]:
    """Show a line that moves while the body runs; `done` of what it gives may be counted up."""
    progress = Progress(what, of)
    if not _wanted():
        yield progress
        return
    _doing.append(progress)
    try:
        with nullcontext() if len(_doing) > 1 else _shown():
            yield progress
    finally:
        _doing.remove(progress)


@contextmanager
def _shown() -> Iterator[None]:
    """Show the innermost of what is being done until the body ends."""
    over = Event()
    shower = Thread(target=_show, args=(over,), daemon=True)
    shower.start()
    try:
        yield
    finally:
        over.set()
        shower.join()


def _wanted() -> bool:
    """Whether standard error is a terminal that can take a line back, and nobody else's."""
    if parent_process() is not None:  # one of a crew: the foreman shows how far all are
        return False
    return sys.stderr.isatty() and os.environ.get("TERM", "") not in ("", "dumb", "unknown")


def _show(over: Event) -> None:
    if over.wait(PATIENCE):
        return
    console = _console()
    with console.status(_text(), spinner="line") as status:
        while not over.wait(TICK):
            status.update(_text())


def _console() -> Console:
    from rich.console import Console

    return Console(stderr=True, highlight=False)


def _text() -> str:
    from rich.markup import escape

    return escape(_doing[-1].line())
