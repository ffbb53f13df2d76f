"""What other commands left beside a run, for its report: speeds, comparison, study."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from .finished import Finished
from .lettering import clean
from .report_blocks import Grid, Part, Picture, Said, Under
from .report_words import band_words
from .sheet_content import ranged, times
from .swap import folder_name
from .wording import pitch_words

MOST_VARIANTS, MOST_DRIVERS = 12, 8
TAKEN_IN = ("speeds", "compare", "study")
"""Commands whose answers a report takes in."""


def beside_run(finished: Finished, beside: Path, what: str) -> tuple[Path, Any] | None:
    """Folder and record that another command left for this very case, if it did."""
    own = finished.summary["case"]["sha256"]
    same = [(folder, found) for folder, found in _left(beside, what) if _of(found) == own]
    return max(same, key=lambda one: (one[0] / f"{what}.json").stat().st_mtime, default=None)


def beside_another(finished: Finished, beside: Path, what: str) -> Path | None:
    """Folder of what a command left beside a run for a case that is not the one run, if alone."""
    if beside_run(finished, beside, what) is not None:
        return None
    return next((folder for folder, _ in _left(beside, what)), None)


def _left(beside: Path, what: str) -> Iterator[tuple[Path, Any]]:
    """What a command left beside a run: named after its case, or after the copy in its folder."""
    for name in (beside.name, folder_name(f"{beside.name} case")):
        folder = beside.with_name(f"{name}-{what}")
        try:
            found = json.loads((folder / f"{what}.json").read_text(encoding="utf-8"))
        except (OSError, ValueError):
            continue
        if _of(found) is not None:
            yield folder, found


def _of(found: Any) -> str | None:
    """Fingerprint of the case that a record is of; none where it is no such record."""
    try:
        return str(found["case"]["sha256"])
    except (LookupError, TypeError):
        return None


def comparison(finished: Finished, beside: Path) -> Iterator[Part]:
    """Set-ups side by side, if `compare` put them there for this case."""
    there = beside_run(finished, beside, "compare")
    if there is None:
        return
    folder, found = there
    for name in ("chuck_or_centres", "steel", "what_buys_most"):
        if name in found:
            yield Said(clean(found[name]["answer"], 900))
    variants = found["variants"][:MOST_VARIANTS]
    yield Grid(
        heads=("set-up", "gain margin", "bore error", "first mode", "why it ranks there"),
        rows=tuple(
            (
                f"{one['rank']}. {one['support']}, {clean(one['material'], 60)}, "
                f"{finished.say(one['diameter_m'])} x {finished.say(one['span_m'])}"
                + (" (this case)" if one["this_case"] else ""),
                band_words(one["gain_margin"]),
                ranged(one["size_error_m"], "length", finished.system),
                pitch_words(one["first_mode_Hz"]["likely"]),
                clean(one["reason"]),
            )
            for one in variants
        ),
        marks=tuple("ok" if one["within_limits"] else "miss" for one in variants),
        numbers=(1, 2, 3),
    )
    left = len(found["variants"]) - len(variants)
    if left:
        yield Said(f"And {left} more in {folder.name}/compare.csv.")
    path = folder / "compare.png"
    if path.exists():
        best = variants[0]
        yield Picture(
            path=path,
            words=(
                f"Set-ups side by side; the best has a gain margin of "
                f"{times(best['gain_margin']['likely'])}"
            ),
        )


def study(finished: Finished, beside: Path) -> Iterator[Part]:
    """Bands, chances and what drives them, if `study` drew them for this case."""
    there = beside_run(finished, beside, "study")
    if there is None:
        return
    # Only here: its words stand beside what draws, and that takes long to load.
    from .study_words import ANSWERS, KINDS

    folder, found = there
    chance, bare = (
        found[name] for name in ("chatter_at_planned_cut", "chatter_without_process_damping")
    )
    yield Said(
        f"Of {found['draws']} draws of everything guessed or given with a range, "
        f"{100 * chance['value']:.0f} in 100 chatter at this cut "
        f"(give or take {100 * chance['error']:.1f}); {100 * bare['value']:.0f} in 100 would if "
        "nothing rubbed the chatter down."
    )
    yield Grid(
        heads=("answer", "low", "middle", "high"),
        rows=tuple(
            (words, *_spread(finished, name, KINDS[name], found["bands"]))
            for name, words in ANSWERS.items()
        ),
        numbers=(1, 2, 3),
        words="Bands that hold 8 times in 10",
    )
    drivers = sorted(
        found["drivers"]["values"], key=lambda one: -one["gain_margin"]["total"]["value"]
    )[:MOST_DRIVERS]
    yield Under("What drives the gain margin, and how to find it out")
    yield Grid(
        heads=("value", "its share", "how to find it out"),
        rows=tuple(
            (
                clean(one["what"]),
                f"{max(one['gain_margin']['total']['value'], 0.0):.0%}",
                clean(one["learnt_by"]),
            )
            for one in drivers
        ),
        numbers=(1,),
    )
    for name, words in (
        ("bands.png", f"Bands; {100 * chance['value']:.0f} in 100 draws chatter"),
        ("drivers.png", _first_driver(drivers[0]) if drivers else ""),
    ):
        if words and (folder / name).exists():
            yield Picture(path=folder / name, words=words)


def _first_driver(one: Mapping[str, Any]) -> str:
    share = max(one["gain_margin"]["total"]["value"], 0.0)
    return f"What drives the answer: first {one['what']}, {share:.0%} of the margin's scatter"


def _spread(finished: Finished, name: str, kind: str, bands: Mapping[str, Any]) -> tuple[str, ...]:
    """Low, middle and high of an answer; its key has its unit behind it."""
    found = next(
        band for key, band in bands.items() if key.rpartition("_")[0] == name or key == name
    )
    return tuple(_drawn(finished, found[end], kind) for end in ("low", "middle", "high"))


def _drawn(finished: Finished, value: float | str, kind: str) -> str:
    if isinstance(value, str):
        return "no limit" if value == "none" else value
    if kind == "share":
        return f"{value:.0%}"
    return times(value) if kind == "ratio" else finished.say(float(f"{value:.3g}"), kind)
