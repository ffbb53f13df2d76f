"""Pictures of a finished folder, drawn in a child process that may die without harm.

On a machine without graphics libraries the first off-screen scene ends the process with a
segmentation fault, and no call asks beforehand. So charts come first, which need none; then the
scenes, one after another, each written under a temporary name and renamed when it is complete.
Whatever becomes of the child, the pictures that exist are whole.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from ctypes.util import find_library
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from .errors import BarwrightError, WriteError

TIME_LIMIT = 60.0
CHARTS = ("deflection.png", "modes_and_speed.png", "give.png", "end_view.png")
LOOP_CHARTS = ("lobes.png", "nose_radius.png", "loop.png")
"""Drawn where the run left their tables."""
HISTORY_CHARTS = ("history.png", "bore_round.png")
"""Drawn where the bore was cut turn by turn."""
CANNOT_WRITE = 74
_WINDOW = "VTK_DEFAULT_OPENGL_WINDOW"


@dataclass(frozen=True, slots=True)
class Drawn:
    """What became of the pictures.

    Attributes
    ----------
    names : files of the pictures that are complete, charts first
    note : one line on what is missing and what would bring it; None where all was drawn
    """

    names: tuple[str, ...]
    note: str | None = None


def draw_in_child(folder: Path, *, time_limit: float = TIME_LIMIT) -> Drawn:
    """Draw every picture of a finished folder, outside this process.

    Parameters
    ----------
    time_limit
        Seconds without a further picture after which the child is stopped: a machine with much
        else to do is slow, not stuck.

    Raises
    ------
    WriteError
        The disk does not take them.
    """
    before = _stamps(folder)
    status: int | None
    with tempfile.TemporaryFile() as said:
        try:
            status = _run_child(folder, said, time_limit)
        except OSError as error:
            return Drawn((), f"no pictures: the drawing could not be started ({error.strerror})")
        said.seek(0)
        words = said.read().decode("utf-8", "replace")
    if status == CANNOT_WRITE:
        raise WriteError(_last(words))
    after = _stamps(folder)
    names = [name for name in after if after[name] != before.get(name)]
    for part in folder.glob(".*.png.part"):
        part.unlink(missing_ok=True)
    return Drawn(tuple(sorted(names, key=_order)), _note(status, words, names, time_limit))


def _run_child(folder: Path, said: IO[bytes], time_limit: float) -> int | None:
    """Exit status of the child that draws; None where it had to be stopped."""
    child = subprocess.Popen(
        child_command(folder),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=said,
        env=child_environment(os.environ),
    )
    try:
        return _waited(child, folder, time_limit)
    finally:
        if child.poll() is None:
            child.kill()
            child.wait()


def _waited(child: subprocess.Popen[bytes], folder: Path, time_limit: float) -> int | None:
    """Exit status of the child; None once it has finished no picture for so long."""
    seen = None
    while (now := _stamps(folder)) != seen:
        seen = now
        with suppress(subprocess.TimeoutExpired):
            return child.wait(time_limit)
    return None


def child_command(folder: Path) -> list[str]:
    """Command line of the child."""
    return [sys.executable, "-m", "barwright.analysis.pictures", str(folder)]


def child_environment(
    own: Mapping[str, str], find: Callable[[str], str | None] = find_library
) -> dict[str, str]:
    """Environment of the child, with the kind of window that this machine can draw in.

    What the user has set stays. Else the library that draws in memory is taken where there is
    one: it needs no X server and no graphics card, so every machine gets the same picture.
    """
    environment = dict(own)
    if _WINDOW not in environment and sys.platform == "linux" and find("OSMesa"):
        environment[_WINDOW] = "vtkOSOpenGLRenderWindow"
    return environment


def _stamps(folder: Path) -> dict[str, tuple[int, int]]:
    """Pictures in a folder, each with what changes when it is drawn anew."""
    found = {}
    for path in folder.glob("*.png"):
        state = path.stat()
        found[path.name] = (state.st_ino, state.st_mtime_ns)
    return found


def _order(name: str) -> tuple[int, int, str]:
    """Charts first, then the set-up, the bent bar, the modes by number."""
    first = [*CHARTS, *LOOP_CHARTS, *HISTORY_CHARTS, "setup.png", "deflected.png"]
    if name in first:
        return 0, first.index(name), name
    digits = "".join(letter for letter in name if letter.isdigit())
    return 1, int(digits or 0), name


def _last(words: str) -> str:
    """Last line that says something."""
    return ([line for line in words.splitlines() if line.strip()] or [""])[-1].strip()


def _note(status: int | None, words: str, names: list[str], time_limit: float) -> str | None:
    """One line on what is missing, or None."""
    if status == 0:
        return None
    last = _last(words)
    which = "no pictures" if not names else "only some pictures"
    if status is None:
        return f"{which}: none was finished in {time_limit:g} s, so the drawing was stopped"
    if status < 0 and all(name in names for name in CHARTS):
        which = "charts drawn, but not the pictures of the set-up, the bent bar and its modes"
        if sys.platform == "linux" and -status in (signal.SIGSEGV, signal.SIGABRT):
            return f"{which}: on Debian or Ubuntu `apt-get install libosmesa6` brings them"
        return f"{which}: the drawing ended with signal {-status}"
    if status < 0:
        return f"{which}: the drawing ended with signal {-status}"
    return f"{which}: the drawing failed ({last[:160]})"


def draw_all(folder: Path) -> Iterator[str]:
    """Draw every picture of a finished folder here, yielding the name of each once complete."""
    from . import bore_charts, charts, end_view, loop_charts
    from .finished import read_finished

    finished = read_finished(folder)
    drawings = {**charts.CHARTS, "end_view.png": end_view.draw_end_view}
    chosen = {name: drawings[name] for name in CHARTS}
    optional = loop_charts.charts_of(finished) | bore_charts.charts_of(finished)
    for name, draw in (chosen | optional).items():
        draw(finished, folder / name)
        yield name
    from .draw import draw_scenes

    yield from draw_scenes(finished)
    from .bore_scene import draw_bore_surfaces

    yield from draw_bore_surfaces(finished)


def main(arguments: list[str]) -> int:
    """Draw the pictures of the folder named in `arguments`; exit status for the child."""
    try:
        for _ in draw_all(Path(arguments[0])):
            pass
    except WriteError as error:
        print(error, file=sys.stderr)
        return CANNOT_WRITE
    except BarwrightError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
