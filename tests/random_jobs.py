"""Jobs drawn at random, sensible and not, as a shop would write them; used by the plan's tests."""

from __future__ import annotations

import random
from typing import Any

METALS = ("grey iron", "ductile iron", "phosphor bronze", "low-carbon steel", "aluminium", "brass")
STEELS = ("mild steel cold drawn", "4140 prehard", "drill rod", "mild steel hot rolled", "6061")


def job_at_random(seed: int) -> dict[str, Any]:
    """One job as plain values, texts with units, the same for the same seed."""
    draw = random.Random(seed)
    inch = draw.random() < 0.5
    bore = draw.uniform(18, 130)
    stock = draw.choice((0.1, 0.3, 1.0, 3.0, 6.0)) * draw.uniform(0.5, 1.5)
    lands = [draw.uniform(8, 150) for _ in range(draw.choice((1, 1, 1, 2, 2, 3, 4)))]
    gaps = [draw.choice((0.0, 5.0, 40.0, 150.0)) * draw.uniform(0.5, 2) for _ in lands[1:]]
    return {
        "title": f"Job {seed}",
        "work": _given(
            draw,
            {
                "material": draw.choice(METALS),
                "bore": _bore(draw, bore, inch),
                "start_bore": _length(bore - 2 * stock, inch),
                "lands": [_length(land, inch) for land in lands],
                "gaps": [_length(gap, inch) for gap in gaps],
                "skin": draw.choice(("yes", "no")),
                "gaps_reached": draw.choice(("yes", "yes", "no")),
            },
            access=lambda: _length(bore * draw.uniform(0.6, 1.0), inch),
            blind=lambda: draw.choice(("no", "no", "no", "no", "no", "yes")),
            cuts_per_turn=lambda: draw.choice((0, 1, 2, 4)),
            beyond_head=lambda: _length(draw.uniform(0, 40), inch),
            beyond_tail=lambda: _length(draw.uniform(0, 40), inch),
            casting_mass=lambda: f"{draw.uniform(2, 60):.3g} kg",
            farthest=lambda: _length(draw.uniform(bore, 300), inch),
            axis_height=lambda: _length(draw.uniform(20, 110), inch),
        ),
        "lathe": _lathe(draw, inch),
        "stock": {
            "bars": [_bar(draw, bore, inch) for _ in range(draw.randint(1, 6))],
            "bits": [_length(draw.uniform(3, 16), inch) for _ in range(draw.randint(1, 4))],
            "nose_radius": _length(draw.choice((0.1, 0.2, 0.4, 0.8)), inch),
        },
    }


def _given(draw: random.Random, always: dict[str, Any], **sometimes: Any) -> dict[str, Any]:
    return always | {name: make() for name, make in sometimes.items() if draw.random() < 0.5}


def _length(millimetres: float, inch: bool) -> str:
    return f"{millimetres / 25.4:.4f} in" if inch else f"{millimetres:.2f} mm"


def _bore(draw: random.Random, bore: float, inch: bool) -> str:
    if inch:
        return f"{bore / 25.4:.3f} +.{draw.choice(('0005', '001', '002', '005'))} -0 in"
    return f"{bore:.0f} {draw.choice(('H7', 'H8', 'H9', 'JS9', 'F8'))}"


def _lathe(draw: random.Random, inch: bool) -> dict[str, Any]:
    lowest = draw.uniform(20, 120)
    speeds = [f"{lowest * 1.5**k:.0f} rpm" for k in range(draw.randint(1, 9))]
    drives = draw.choice((("chuck",), ("dog",), ("chuck", "dog"), ("chuck", "dog")))
    plain: dict[str, Any] = {
        "chuck": {"grip": _length(draw.uniform(25, 60), inch)},
        "dog": {"length": _length(draw.uniform(15, 45), inch)},
    }
    feeds = draw.sample((0.03, 0.05, 0.08, 0.1, 0.15, 0.2, 0.3, 0.5), draw.randint(1, 6))
    return _given(
        draw,
        {
            "speeds": speeds,
            "between_centres": _length(draw.uniform(250, 1500), inch),
            **{name: plain[name] for name in drives},
        },
        feeds=lambda: [f"{feed} mm/rev" for feed in {0.1, *feeds}],
        power=lambda: f"{draw.uniform(150, 2500):.0f} W",
        carriage_travel=lambda: _length(draw.uniform(100, 1200), inch),
        carriage_length=lambda: _length(draw.uniform(120, 500), inch),
        height_over_slide=lambda: _length(draw.uniform(40, 150), inch),
        swing=lambda: _length(draw.uniform(150, 500), inch),
        tail=lambda: {"kind": draw.choice(("live centre", "dead centre"))},
        quill=lambda: _length(draw.uniform(0, 60), inch),
    )


def _bar(draw: random.Random, bore: float, inch: bool) -> dict[str, str]:
    return {
        "material": draw.choice(STEELS),
        "diameter": _length(bore * draw.uniform(0.3, 1.05), inch),
        "length": _length(draw.uniform(150, 1600), inch),
    }
