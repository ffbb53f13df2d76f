"""ISO 286 hole tolerances: what `44 H7` allows.

Grades and fundamental deviations are typed from the tables of ISO 286-1:2010 (table 1 for the
IT grades, table 2 for holes D to H), sizes up to 500 mm. The tables are used rather than the
formulas behind them (7 i, 10 i, 16 i ... with i = 0.45 D^(1/3) + 0.001 D in um), because the
standard rounds by rules of its own. Holes K, N, P and the rest need the standard's delta rules
and are refused rather than guessed.
"""

from __future__ import annotations

import re

# Upper end of each range of sizes, mm: "over the one before, up to and including this".
SIZE_UP_TO = (3, 6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500)

# Width of the tolerance, um, ISO 286-1:2010 table 1.
GRADE_WIDTH: dict[int, tuple[int, ...]] = {
    5: (4, 5, 6, 8, 9, 11, 13, 15, 18, 20, 23, 25, 27),
    6: (6, 8, 9, 11, 13, 16, 19, 22, 25, 29, 32, 36, 40),
    7: (10, 12, 15, 18, 21, 25, 30, 35, 40, 46, 52, 57, 63),
    8: (14, 18, 22, 27, 33, 39, 46, 54, 63, 72, 81, 89, 97),
    9: (25, 30, 36, 43, 52, 62, 74, 87, 100, 115, 130, 140, 155),
    10: (40, 48, 58, 70, 84, 100, 120, 140, 160, 185, 210, 230, 250),
    11: (60, 75, 90, 110, 130, 160, 190, 220, 250, 290, 320, 360, 400),
}

# Lower deviation of the hole, um, ISO 286-1:2010 table 2 (the same for every grade).
LOWER_DEVIATION: dict[str, tuple[int, ...]] = {
    "D": (20, 30, 40, 50, 65, 80, 100, 120, 145, 170, 190, 210, 230),
    "E": (14, 20, 25, 32, 40, 50, 60, 72, 85, 100, 110, 125, 135),
    "F": (6, 10, 13, 16, 20, 25, 30, 36, 43, 50, 56, 62, 68),
    "G": (2, 4, 5, 6, 7, 9, 10, 12, 14, 15, 17, 18, 20),
    "H": (0,) * 13,
}


def hole_deviations(size: float, designation: str) -> tuple[float, float]:
    """Lower and upper deviation of a hole from its nominal size, um.

    Parameters
    ----------
    size
        Nominal size, mm, above 0 and up to 500.
    designation
        Letter and grade, such as ``H7`` or ``JS8``.

    Examples
    --------
    >>> hole_deviations(44, "H7")
    (0, 25)
    >>> hole_deviations(44, "F8")
    (25, 64)
    """
    named = re.fullmatch(r"([A-Z]{1,2})([0-9]{1,2})", designation)
    if named is None or not (named[1] in LOWER_DEVIATION or named[1] == "JS"):
        message = f"{designation} is not a hole this knows; it knows D, E, F, G, H and JS"
        raise ValueError(message)
    if int(named[2]) not in GRADE_WIDTH:
        message = f"{designation}: grades 5 to 11 are known, such as {named[1]}7"
        raise ValueError(message)
    row = _size_range(size)
    width = GRADE_WIDTH[int(named[2])][row]
    if named[1] == "JS":
        return -width / 2, width / 2
    lower = LOWER_DEVIATION[named[1]][row]
    return lower, lower + width


def _size_range(size: float) -> int:
    """Which range of sizes of ISO 286-1 a nominal size in mm falls in."""
    for row, largest in enumerate(SIZE_UP_TO):
        if 0 < size <= largest:
            return row
    message = "ISO 286 fits are known from 0 to 500 mm; write the limits instead"
    raise ValueError(message)
