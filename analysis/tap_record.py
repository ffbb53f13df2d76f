"""What `tap` leaves: the pitches of a recording, each tap, what was thrown away; JSON and CSV."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any

from .record import write_table
from .tap import Pitch, Spread, TapTest

SCHEMA = "barwright.tap/1"
_COLUMNS = {
    "pitch": "Hz",
    "pitch_low": "Hz",
    "pitch_high": "Hz",
    "damping": "% of critical",
    "damping_low": "% of critical",
    "damping_high": "% of critical",
    "damping_by_peak_width": "% of critical",
    "energy_of_strongest": "-",
    "taps": "-",
}


def tap_summary(test: TapTest) -> dict[str, Any]:
    """A tap test as plain data, SI, keys with their units; intervals hold nine times in ten."""
    recording = test.recording
    found: dict[str, Any] = {
        "schema": SCHEMA,
        "barwright": version("barwright"),
        "file": recording.name,
        "length_s": recording.length,
        "sample_rate_Hz": recording.rate,
        "pitches": [_pitch(pitch) for pitch in test.pitches],
        "used_s": list(test.used),
        "rejected": [{"time_s": hit.time, "why": hit.reason} for hit in test.rejected],
        "mains_Hz": test.mains or "none",
        "steady_lines_Hz": list(test.lines),
        "notes": list(test.notes),
    }
    if recording.channel:
        found["channel"] = recording.channel
    if test.level_riding:
        found["damping_refused"] = test.level_riding
    return found


def _pitch(pitch: Pitch) -> dict[str, Any]:
    found: dict[str, Any] = {"frequency_Hz": _spread(pitch.frequency)}
    for key, value in (
        ("damping_ratio", pitch.damping),
        ("damping_ratio_by_peak_width", pitch.half_power),
    ):
        if value is not None:
            found[key] = _spread(value)
    return found | {
        "energy_of_strongest": pitch.level,
        "taps": pitch.taps,
        "each_Hz": list(pitch.each),
    }


def _spread(value: Spread) -> dict[str, float]:
    return {"likely": value.likely, "low": value.low, "high": value.high}


def write_tap(folder: Path, test: TapTest) -> None:
    """Write `tap.json` and `tap.csv` into an empty folder.

    Raises
    ------
    OSError
        A file could not be written; the caller throws the folder away.
    """
    text = json.dumps(tap_summary(test), indent=1, allow_nan=False)
    (folder / "tap.json").write_text(text + "\n", encoding="utf-8")
    write_table(folder / "tap.csv", _COLUMNS, _rows(test))


def _rows(test: TapTest) -> Iterable[Sequence[object]]:
    for pitch in test.pitches:
        f, damping, width = pitch.frequency, pitch.damping, pitch.half_power
        yield (
            f.likely,
            f.low,
            f.high,
            *((100 * value for value in _three(damping)) if damping else ("",) * 3),
            100 * width.likely if width else "",
            pitch.level,
            pitch.taps,
        )


def _three(value: Spread) -> tuple[float, float, float]:
    return value.likely, value.low, value.high
