"""Figures and titles as pictures and pages say them: short, and without false digits."""

from __future__ import annotations

from collections.abc import Sequence
from math import floor, log10

from .units import Own, show


def short(text: str, longest: int) -> str:
    r"""Words of the user on one line, cut to a length that has room.

    Examples
    --------
    >>> short("bull gear,\n66 teeth, and more", 16)
    'bull gear, 66...'
    """
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return line if len(line) <= longest else line[: longest - 3] + "..."


def set_by(length: float, system: Own) -> str:
    """A depth or a move of the bit, m, to the last digit that a micrometer shows of it.

    Examples
    --------
    >>> set_by(79.9975e-6, "inch"), set_by(79.9975e-6, "mm"), set_by(0.92733e-3, "inch")
    ('3.1 thou', '80 um', '0.0365 in')
    """
    shown = round(length, 6) if system == "mm" else round(length / 0.0254, 4) * 0.0254
    return show(shown, "length", system)


def set_by_both(length: float, own: Own) -> str:
    """The same in its `own` units, the other system's in brackets.

    Examples
    --------
    >>> set_by_both(76.2e-6, "inch"), set_by_both(76.2e-6, "mm")
    ('3 thou (76 um)', '76 um (3 thou)')
    """
    other: Own = "mm" if own == "inch" else "inch"
    return f"{set_by(length, own)} ({set_by(length, other)})"


def rpm_words(speed: float) -> str:
    """A spindle speed given in Hz, in turns a minute without false digits.

    Examples
    --------
    >>> rpm_words(1.4469), rpm_words(0.1234)
    ('87 rpm', '7.4 rpm')
    """
    rpm = 60 * speed
    return f"{rpm:.0f} rpm" if rpm >= 10 else f"{rpm:.2g} rpm"


def pitch_words(frequency: float) -> str:
    """A frequency in Hz of at most three digits below a kilohertz.

    Examples
    --------
    >>> pitch_words(297.06), pitch_words(1085.8), pitch_words(24.0)
    ('297 Hz', '1086 Hz', '24 Hz')
    """
    return f"{frequency:.3g} Hz" if frequency < 999.5 else f"{frequency:.0f} Hz"


def nice_step(value: float, steps: Sequence[float] = (1.0, 2.0, 5.0)) -> float:
    """Largest of `steps` times a power of ten that is not above `value`.

    Examples
    --------
    >>> nice_step(4300.0), nice_step(0.7)
    (2000.0, 0.5)
    """
    power = 10.0 ** floor(log10(value))
    return float(power * max(step for step in steps if step * power <= value * (1 + 1e-12)))


def plain_speeds(low: float, high: float) -> list[float]:
    """Plain numbers between two spindle speeds, for the scale of a lathe that names none.

    Examples
    --------
    >>> plain_speeds(75.0, 192.0)
    [100.0, 150.0]
    """
    steps = (1.0, 1.5, 2.0, 3.0, 5.0, 7.0)
    found = [step * 10.0**power for power in range(-2, 6) for step in steps]
    return [speed for speed in found if low <= speed <= high]
