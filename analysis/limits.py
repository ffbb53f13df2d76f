"""What the job asks of the bar: the limits that decide the verdict."""

from __future__ import annotations

from .entry import Entry, Length, Ratio, Share


class Limits(Entry):
    """Limits of this job; what is left out falls back on the tolerance of the bore."""

    size_error: Length | None = None
    """Largest bore-diameter error from bar spring; left out: half the width of the bore's
    limits, else 0.05 mm."""
    ovality: Length | None = None
    """Largest difference of the bore's diameters; left out: half of `size_error`."""
    separation: Share = 0.15
    """Least distance between a mode and anything that shakes it, as a share of the mode."""
    chatter_margin: Ratio = 1.0
    """Least gain margin against chatter at the likely values; 1 just sings."""
    sag: Length = 0.00005
    """Largest sag of the bar under its own weight at the bit."""
    hole_share: Share = 0.34
    """Largest cross-hole over bar diameter."""
    yield_margin: Ratio = 2.0
    """Least yield strength over the peak stress at the cross-hole, at the heavy end of the force;
    2 leaves room for a dig-in, which nobody can compute."""
    fatigue_margin: Ratio = 1.5
    """Least margin against fatigue at the cross-hole, at the heavy end of the force."""
    screw_margin: Ratio = 1.0
    """Least hold of the set screws over the push of the cut along the bit; what shaking takes
    from the hold is already in it."""


def verdict_words(*, within_limits: bool, quiet_unrubbed: bool, doubtful: bool) -> str:
    """The answer in a few words, for screen and paper alike.

    Parameters
    ----------
    quiet_unrubbed : whether the chatter margin is met without the rubbing of a slow edge
    doubtful : whether a limit would be missed at the pessimistic end of what was guessed
    """
    if not within_limits:
        return "OUTSIDE LIMITS"
    if not quiet_unrubbed:
        return "WITHIN LIMITS, BUT IT MAY CHATTER"
    return "WITHIN LIMITS, IF THE GUESSES HOLD" if doubtful else "WITHIN LIMITS"
