"""Cautions that go with every answer."""

from __future__ import annotations

CAUTIONS = (
    "A long bar turning with a bit and screw heads: guard it; no hands, gloves or brushes near.",
    "Chuck key out. Power off, turn the bar one full turn by hand at both ends of the travel.",
    "Deep, clean centres; quill and tailstock locked, checked again once warm.",
    "Power isolated to set or measure the bit, and the spindle blocked for push and tap tests.",
    "Know the weight of the casting and how it is held; nothing strapped to a turning bar.",
    "This is an aid: it certifies nothing. Local codes, the machine's manual and qualified "
    "practice come first.",
)
