"""The guide in README followed to the letter: its commands run, its pictures made again.

``python tests/guide.py`` runs every command that README shows, in its order, in a folder of its
own, puts the pictures into ``cases/guide/`` and names the lines of README that are no longer what
the program says. What it does say goes to ``said.txt`` beside the results.
"""

from __future__ import annotations

import re
import shlex
import shutil
from contextlib import chdir, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

from PIL import Image
from scipy.io import wavfile
from tap_sounds import Ring, Scene, recorded

from barwright.cli.app import status

CHECKOUT = Path(__file__).parents[1]
PICTURES = CHECKOUT / "cases" / "guide"
TAPS = Scene(rings=(Ring(pitch=371.0, damping=0.02), Ring(pitch=905.0, damping=0.015, size=0.4)))
COLOURS = 256
PAGE_WIDTH, PAGE_SHADES = 1000, 16
SOURCES = {
    "set_up.png": "pump_barrel/setup.png",
    "sheet.png": "pump_barrel/sheet.pdf",
    "bent_bar.png": "pump_barrel/deflected.png",
    "first_mode.png": "pump_barrel/mode_2.png",
    "margin.png": "pump_barrel/lobes.png",
    "compare.png": "pump_barrel-case-compare/compare.png",
    "speeds.png": "pump_barrel-case-speeds/speeds.png",
    "drivers.png": "pump_barrel-case-study/drivers.png",
}
"""Each picture of the guide and what it is made from, under ``results/``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A command as README shows it, and the lines that it shows of the answer."""

    command: str
    lines: tuple[str, ...]

    @property
    def words(self) -> list[str]:
        """The command line in words, its first one left out."""
        return shlex.split(self.command)[1:]


def readme() -> str:
    """The text of README."""
    return (CHECKOUT / "README.md").read_text(encoding="utf-8")


def blocks(kind: str) -> list[str]:
    """What stands in README's fenced blocks of one kind."""
    return re.findall(rf"^```{kind}\n(.*?)^```$", readme(), re.DOTALL | re.MULTILINE)


def shown() -> list[Shown]:
    """Every command that README shows at a prompt, in order."""
    found: list[Shown] = []
    for block in blocks("console"):
        for text in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            command, *lines = text.rstrip("\n").replace(" \\\n", " ").split("\n")
            found.append(Shown(command=" ".join(command.split()), lines=tuple(lines)))
    return found


def follow(folder: Path) -> dict[str, str]:
    """What each command says when all are run one after the other in an empty folder.

    Parameters
    ----------
    folder : gets a copy of ``cases``, a recording of taps, and the results
    """
    shutil.copytree(CHECKOUT / "cases", folder / "cases", ignore=shutil.ignore_patterns("guide"))
    wavfile.write(folder / "sideways.wav", TAPS.rate, recorded(TAPS).sound)
    return {one.command: _said(one.words, folder) for one in shown()}


def _said(words: list[str], folder: Path) -> str:
    """Standard output and then the notes of one command."""
    spread = [
        name
        for word in words
        for name in (
            sorted(str(path.relative_to(folder)) for path in folder.glob(word))
            if "*" in word
            else [word]
        )
    ]
    said, noted = StringIO(), StringIO()
    with chdir(folder), redirect_stdout(said), redirect_stderr(noted):
        code = status(spread)
    if code not in (0, 1):
        message = f"barwright {shlex.join(words)}: status {code}\n{noted.getvalue()}"
        raise RuntimeError(message)
    return said.getvalue().lstrip("\n") + noted.getvalue()


def first_wrong(lines: tuple[str, ...], said: str) -> str | None:
    """The first line shown that does not come next in what was said; "..." skips any number."""
    rest = said.splitlines()
    skips = False
    for line in lines:
        if line.strip() == "...":
            skips = True
            continue
        if line not in (rest if skips else rest[:1]):
            return line
        rest = rest[rest.index(line) + 1 :]
        skips = False
    return None if skips or not rest else f"(and then) {rest[0]}"


def picture(results: Path, name: str) -> Image.Image | None:
    """One picture of the guide from what the commands left; none where it could not be drawn."""
    source = results / SOURCES[name]
    if source.suffix == ".pdf":
        return _page(source)
    if not source.exists():
        return None
    with Image.open(source) as drawn:
        return drawn.convert("RGB").quantize(COLOURS, kmeans=3, dither=Image.Dither.NONE)


def _page(source: Path) -> Image.Image | None:
    """The first page of a sheet in shades of grey."""
    try:
        import pypdfium2
    except ImportError:
        return None
    page = pypdfium2.PdfDocument(source)[0]
    drawn = page.render(scale=PAGE_WIDTH / page.get_width(), grayscale=True).to_pil()
    shades: Image.Image = drawn.convert("RGB").quantize(PAGE_SHADES, dither=Image.Dither.NONE)
    return shades


def main(folder: Path = CHECKOUT / "build" / "guide") -> None:
    """Follow the guide in a folder made anew and put its pictures into ``cases/guide/``."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    said = follow(folder)
    text = "".join(f"$ {command}\n{answer}\n" for command, answer in said.items())
    (folder / "said.txt").write_text(text, encoding="utf-8")
    PICTURES.mkdir(exist_ok=True)
    for name in SOURCES:
        made = picture(folder / "results", name)
        if made is None:
            print(f"not made: {name}")
            continue
        made.save(PICTURES / name, optimize=True)
        print(f"{name}: {(PICTURES / name).stat().st_size / 1000:.0f} kB")
    print(f"what the commands said: {folder / 'said.txt'}")
    for one in shown():
        wrong = first_wrong(one.lines, said[one.command])
        if wrong is not None:
            print(f"no longer said by {one.command}: {wrong}")


if __name__ == "__main__":
    main()
