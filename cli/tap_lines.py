"""What `tap` prints: the pitches first, then each with its damping, then what was thrown away."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .console import heading, plain, say, table, wrapped

if TYPE_CHECKING:
    from barwright.analysis.tap import Pitch, Spread, TapTest

MOST_REJECTED = 8


def answer(test: TapTest) -> None:
    """Print the strongest pitch and how many taps it rests on."""
    count, used = len(test.pitches), len(test.used)
    say(
        f"{plain(test.recording.name)}: {count} {_many('pitch', count, 'es')} from {used} "
        f"{_many('tap', used)}{_left_out(test)}."
    )
    strongest = max(test.pitches, key=lambda pitch: pitch.level)
    say(wrapped(f"Strongest: {_in_words(strongest)}."))
    if test.level_riding:
        say(
            wrapped(
                f"Damping refused: {test.level_riding}, and a gain that comes back while the "
                "ring dies makes it look longer. Switch automatic level and noise suppression "
                "off, or use a recorder app that can. The pitches hold."
            )
        )


def _many(word: str, count: int, ending: str = "s") -> str:
    return word if count == 1 else word + ending


def _left_out(test: TapTest) -> str:
    count = len(test.rejected)
    return f"; {count} more {_many('hit', count)} not used" if count else ""


def _in_words(pitch: Pitch) -> str:
    """Band first: `149 to 151 Hz, likely 150 Hz; dies with 0.9 to 1.1 % of critical damping`."""
    damping = ""
    if pitch.damping:
        d = pitch.damping
        damping = (
            f"; damping {_percent(d.low)} to {_percent(d.high)} % of critical, "
            f"likely {_percent(d.likely)} %"
        )
    f = pitch.frequency
    places = _places(f)
    return (
        f"{f.low:.{places}f} to {f.high:.{places}f} Hz, likely {f.likely:.{places}f} Hz{damping}"
    )


def details(test: TapTest) -> None:
    """Print every pitch, what was thrown away and why, the room, and what to do next."""
    heading("Pitches (each range holds nine times in ten)")
    table(
        [
            ("Hz", "range", "damping, %", "range", "by peak width, %", "loudness", "taps"),
            *(_row(pitch) for pitch in test.pitches),
        ]
    )
    if test.rejected:
        heading("Not used")
        for hit in test.rejected[:MOST_REJECTED]:
            say(f"  at {hit.time:.2f} s: {hit.reason}")
        if len(test.rejected) > MOST_REJECTED:
            say(f"  and {len(test.rejected) - MOST_REJECTED} more")
    heading("The recording")
    for line in _room(test):
        say(wrapped(line))
    heading("Next")
    for line in _next(test):
        say(wrapped(line))


def _row(pitch: Pitch) -> tuple[str, ...]:
    f, places = pitch.frequency, _places(pitch.frequency)
    return (
        f"{f.likely:.{places}f}",
        f"{f.low:.{places}f} to {f.high:.{places}f}",
        *_damping_cells(pitch.damping),
        _percent(pitch.half_power.likely) if pitch.half_power else "-",
        _loudness(pitch.level),
        str(pitch.taps),
    )


def _damping_cells(damping: Spread | None) -> tuple[str, str]:
    if damping is None:
        return "refused", "-"
    return (
        _percent(damping.likely),
        f"{_percent(damping.low)} to {_percent(damping.high)}",
    )


def _places(value: Spread) -> int:
    """Decimals that show the width of a pitch's range: none to two."""
    width = value.high - value.low
    return 0 if width > 2.0 else 1 if width > 0.2 else 2


def _percent(ratio: float) -> str:
    """A damping ratio in per cent of critical with three digits, never as a power of ten."""
    return f"{100 * ratio:#.3g}"


def _loudness(level: float) -> str:
    """Energy as a share of the strongest pitch's, in words of decibels."""
    from math import log10

    return "strongest" if level > 0.999 else f"{10 * log10(level):.0f} dB"


def _room(test: TapTest) -> list[str]:
    recording = test.recording
    found = [f"{recording.length:.3g} s at {recording.rate:.0f} samples a second."]
    if recording.channel:
        found[0] = f"{found[0][:-1]}; the {recording.channel}, which stands out more."
    if test.mains:
        found.append(f"Mains hum at {test.mains:.0f} Hz and its multiples was taken out.")
    elif test.lines:
        tones = ", ".join(f"{line:.0f}" for line in test.lines[:6])
        found.append(f"Steady tones were taken out: {tones} Hz.")
    found.append("A phone that cuts lows makes a low pitch faint; it does not move it.")
    return [*found, *test.notes]


def _next(test: TapTest) -> list[str]:
    found = []
    if len(test.used) < 5:
        found.append("Tap at least five times, each a second after the last has died away.")
    return [
        *found,
        "Tap up-and-down and sideways into separate recordings, at the bit and at a quarter of "
        "the span (the middle does not wake the overtone); then the casting and the tail barrel.",
        "barwright fit CASE --tap SIDEWAYS.wav --tap-up UP.wav puts them into the case.",
    ]
