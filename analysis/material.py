"""What bars are made of and what is bored: values, their ranges, where each comes from.

The shipped tables stand in `bar_materials.yaml` and `work_materials.yaml`, written in the same
words as a case. Steels differ in strength, hardly in stiffness: the data books differ more among
themselves over one steel than over mild steel against 4140.
"""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Annotated, Any

import yaml
from pydantic import BeforeValidator, Field, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError

from .entry import (
    Angle,
    Density,
    Entry,
    Exponent,
    Feed,
    LineDamping,
    PoissonRatio,
    Stress,
    SurfaceSpeed,
)
from .units import quoted


class BarMaterial(Entry):
    """A material for bars."""

    name: str = "own material"
    """What the shop calls it."""
    condition: str = ""
    """How it was drawn, cast or heat treated."""
    elastic_modulus: Stress
    """Young's modulus."""
    poisson: PoissonRatio = 0.29
    """Poisson's ratio."""
    density: Density
    """Mass per volume."""
    yield_strength: Stress
    """Stress at which it stays bent."""
    tensile_strength: Stress | None = None
    """Stress at which it breaks."""
    hardness: str = ""
    """Hardness, in words."""
    sources: dict[str, str] = Field(default_factory=dict)
    """Where each value comes from, by the name of the value."""

    @property
    def shear_modulus(self) -> float:
        """``G = E / 2(1 + nu)``, Pa; holds for a material alike in all directions."""
        return float(self.elastic_modulus / (2 * (1 + self.poisson)))


class WorkMaterial(Entry):
    """A material to be bored, by the force it takes."""

    name: str = "own material"
    """What the shop calls it."""
    specific_force: Stress
    """Force along the edge's motion per chip section, for a chip 1 mm thick (kc1.1)."""
    force_exponent: Exponent
    """How fast that force grows as the chip thins (mc)."""
    normal_force: Stress
    """Force along the edge's normal per chip section, for a chip 1 mm thick (kn1.1)."""
    normal_exponent: Exponent
    """How fast that force grows as the chip thins (mn)."""
    process_damping: LineDamping = 0.0
    """Damping of the worn edge on the waves of the surface, per length of edge, times the cutting
    speed (C)."""
    power_constant: Stress | None = None
    """Energy to cut a volume with a sharp edge at 0.3 mm/rev (1 W.s/mm3 is 1 GPa)."""
    hss_speed_least: SurfaceSpeed | None = None
    """Slowest usual cutting speed for high-speed steel."""
    hss_speed_most: SurfaceSpeed | None = None
    """Fastest usual cutting speed for high-speed steel."""
    feed_least: Feed = 0.00005
    """Smallest feed that the values hold for."""
    feed_most: Feed = 0.001
    """Largest feed that the values hold for."""
    reference_rake: Angle = 0.0
    """Rake of the edge that the values were measured with."""
    sources: dict[str, str] = Field(default_factory=dict)
    """Where each value comes from, by the name of the value."""


@cache
def bar_materials() -> Mapping[str, BarMaterial]:
    """The shipped bar materials by name, in the order of the table."""
    return {name: BarMaterial(name=name, **row) for name, row, _ in _rows("bar_materials")}


@cache
def work_materials() -> Mapping[str, WorkMaterial]:
    """The shipped work materials by name, in the order of the table."""
    return {name: WorkMaterial(name=name, **row) for name, row, _ in _rows("work_materials")}


def is_shipped(material: BarMaterial | WorkMaterial) -> bool:
    """Whether a material is just as it stands in its table."""
    table = bar_materials() if isinstance(material, BarMaterial) else work_materials()
    return table.get(material.name) == material


@cache
def _rows(table: str) -> tuple[tuple[str, dict[str, Any], tuple[str, ...]], ...]:
    """Name, values and other names of each material; every scalar stays text."""
    path = Path(__file__).with_name(f"{table}.yaml")
    rows = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.CBaseLoader)
    return tuple((name, row, tuple(row.pop("also", ()))) for name, row in rows.items())


@cache
def _names(table: str) -> Mapping[str, str]:
    """Every name and other name of a table, lower case, to the name in the table."""
    pairs = [(other, name) for name, _, others in _rows(table) for other in (name, *others)]
    return {_plain(other): name for other, name in pairs}


def _plain(name: str) -> str:
    return " ".join(name.lower().replace("_", " ").split())


def _named(name: str, table: str) -> str:
    """Name in the table for what the shop calls it."""
    names = _names(table)
    if _plain(name) in names:
        return names[_plain(name)]
    close = get_close_matches(_plain(name[:100]), names, n=1, cutoff=0.7)
    hint = f"; did you mean {names[close[0]]}?" if close else "."
    known = ", ".join(known for known, _, _ in _rows(table))
    message = f"{quoted(name)} is not in the table{hint} It has: {known}"
    raise PydanticCustomError("material", "{m}", {"m": message})  # noqa: EM101


def _bar_material(value: object) -> object:
    return bar_materials()[_named(value, "bar_materials")] if isinstance(value, str) else value


def _work_material(value: object) -> object:
    return work_materials()[_named(value, "work_materials")] if isinstance(value, str) else value


class _NamedOrOwn:
    """JSON Schema of a material: a name to complete, another way of writing it, or own values."""

    def __init__(self, table: str) -> None:
        self.table = table

    def __get_pydantic_json_schema__(
        self, core: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        names = [name for name, _, _ in _rows(self.table)]
        return {"anyOf": [{"enum": names}, {"type": ["string", "number"]}, handler(core)]}


BarMaterialChoice = Annotated[
    BarMaterial, BeforeValidator(_bar_material), _NamedOrOwn("bar_materials")
]
WorkMaterialChoice = Annotated[
    WorkMaterial, BeforeValidator(_work_material), _NamedOrOwn("work_materials")
]
