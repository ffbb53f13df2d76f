"""Cases that several tests start from; invented, and plain enough to work by hand."""

from __future__ import annotations

import os
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any

# As the command line does: the dense parts are small, and threads cost more than they bring.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")
# Holes solved by one test serve the next, and the user's own are left alone.
os.environ.setdefault("BARWRIGHT_CACHE", str(Path(__file__).parents[1] / "build" / "blocks"))

import pytest
from hypothesis import settings

from barwright.analysis.case import Case

# The same examples on every machine: a red check is then a fault, and anyone can see it again.
settings.register_profile("steady", derandomize=True, deadline=None)
settings.load_profile("steady")

PLAIN: dict[str, Any] = {
    "title": "Plain bar",
    "bar": {"material": "4140 prehard", "diameter": "30 mm", "span": "400 mm"},
    "cross_hole": {"size": "8 mm", "position": "200 mm"},
    "bit": {"size": "8 mm"},
    "supports": {
        "drive": {
            "kind": "dead centre with dog",
            "radial_stiffness": "60 N/um",
            "axial_stiffness": "50 N/um",
            "turning_stiffness": "3 kN.m/rad",
            "dog_position": "15 mm",
            "dog_mass": "0.3 kg",
        },
        "tail": {
            "kind": "live centre",
            "radial_stiffness": "20 N/um",
            "axial_stiffness": "20 N/um",
        },
    },
    "work": {
        "material": "grey iron",
        "bore": "50 +0.04 -0 mm",
        "radial_stiffness": "rigid",
    },
    "cut": {
        "depth": "0.2 mm",
        "feed": "0.1 mm/rev",
        "speed": "120 rpm",
        "force": {"radial": "30 N", "tangential": "80 N", "axial": "20 N"},
    },
}

MakeCase = Callable[..., Case]


@pytest.fixture(scope="session")
def make_case() -> MakeCase:
    """Return a function that builds the plain case with changes, keys dotted."""

    def build(**changes: Any) -> Case:
        raw = deepcopy(PLAIN)
        for dotted, value in changes.items():
            *path, last = dotted.split("__")
            place = raw
            for name in path:
                place = place.setdefault(name, {})
            place[last] = value
        return Case.model_validate(raw)

    return build


@pytest.fixture
def remembering(monkeypatch: pytest.MonkeyPatch) -> None:
    """Solve no case in this process that was solved in it before."""
    from remembered import remember

    remember(monkeypatch)
