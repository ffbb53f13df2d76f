"""A plain job for the plan's tests, and any change of it."""

from __future__ import annotations

from typing import Any

from barwright.analysis.job import BoringJob

PLAIN: dict[str, Any] = {
    "title": "Bracket",
    "work": {
        "material": "grey iron",
        "bore": "45 H8",
        "start_bore": "42 mm",
        "lands": ["80 mm"],
        "skin": "no",
        "beyond_head": "10 mm",
        "beyond_tail": "5 mm",
        "bit_reached": "yes",
    },
    "lathe": {
        "speeds": ["45 rpm", "65 rpm", "90 rpm", "135 rpm", "300 rpm"],
        "feeds": ["0.08 mm/rev", "0.1 mm/rev", "0.15 mm/rev"],
        "between_centres": "600 mm",
        "chuck": {"grip": "40 mm", "clear": "12 mm", "reach": "60 mm"},
        "dog": {"length": "25 mm", "clear": "12 mm"},
        "tail_clear": "15 mm",
        "quill": "20 mm",
    },
    "travel": {"run_in": "12 mm", "run_out": "6 mm"},
    "stock": {
        "bars": [{"material": "4140 prehard", "diameter": "30 mm", "length": "600 mm"}],
        "bits": ["8 mm"],
        "nose_radius": "0.2 mm",
    },
}
TWO_LANDS = {"lands": ["30 mm", "30 mm"], "gaps": ["110 mm"]}


def plain_job(**sections: dict[str, Any]) -> BoringJob:
    """The plain job with some keys of its sections changed; a key set to None is left out."""
    changed = {
        name: {**value, **sections.get(name, {})} if isinstance(value, dict) else value
        for name, value in PLAIN.items()
    } | {name: keys for name, keys in sections.items() if name not in PLAIN}
    return BoringJob.model_validate(
        {
            name: {key: one for key, one in value.items() if one is not None}
            if isinstance(value, dict)
            else value
            for name, value in changed.items()
        }
    )
