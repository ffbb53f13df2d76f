"""Every value that goes into a run, with where it came from.

A value is *typed* (in the file or in Python), *chosen by plan* (in a file that a plan wrote, and
marked so there), *measured* (typed under `measured`), from a *shipped table*, or a *default
guess*.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

from pydantic.fields import FieldInfo

from .entry import Entry
from .keys import Key, dotted, kind_of, undotted
from .material import BarMaterial, WorkMaterial, is_shipped
from .units import Estimate, Fit

Origin = Literal["typed", "chosen by plan", "default guess", "measured", "shipped table"]

SI_UNIT: dict[str, str] = {
    "length": "m",
    "feed": "m/rev",
    "force": "N",
    "mass": "kg",
    "stiffness": "N/m",
    "turn stiffness": "N.m/rad",
    "damping": "N.s/m",
    "stress": "Pa",
    "density": "kg/m3",
    "spindle speed": "Hz",
    "surface speed": "m/s",
    "frequency": "Hz",
    "power": "W",
    "angle": "rad",
    "fit": "m",
}


@dataclass(frozen=True, slots=True)
class Input:
    """One value that went into a run.

    Attributes
    ----------
    name
        Dotted, such as ``supports.drive.tilt_stiffness`` or ``bar.steps[1].diameter``.
    value
        In SI; words stay words.
    kind
        Of quantity, a key of `units.EXAMPLES`; empty for words and counts.
    unit
        SI unit of `value`; empty where there is none.
    range
        Lowest and highest, SI, where the value is given or guessed with a range.
    text
        As it was typed; empty for a value from Python, a table or a default.
    """

    name: str
    value: float | str
    kind: str
    unit: str
    origin: Origin
    range: tuple[float, float] | None = None
    text: str = ""


def inputs(
    case: Entry, typed: Mapping[Key, str] | None = None, chosen: Collection[Key] = ()
) -> tuple[Input, ...]:
    """Every value of a case, or of a job, with its origin.

    Parameters
    ----------
    typed
        Texts by key, as `CaseFile` reads them; left out for a case made in Python.
    chosen
        Keys that a plan wrote and marked as its own choice.
    """
    measured = {undotted(row.what): row.value for row in getattr(case, "measured", ())}
    walk = _Walk(typed or {}, measured, chosen)
    return tuple(walk.entry(case, (), None))


class _Walk(NamedTuple):
    """Goes through the entries of a case, knowing what was typed and what was measured."""

    typed: Mapping[Key, str]
    measured: Mapping[Key, str]
    chosen: Collection[Key]

    def entry(self, entry: Entry, key: Key, above: Origin | None) -> Iterator[Input]:
        """Every value of an entry; `above` is its own origin where that decides."""
        for name, field in type(entry).model_fields.items():
            value = getattr(entry, name)
            typed: Origin = "typed" if name in entry.model_fields_set else "default guess"
            origin = above or (None if typed == "typed" else typed)
            if value is not None and name not in ("measured", "job", "sources"):
                yield from self.value(value, field, (*key, name), origin)

    def value(
        self, value: Any, field: FieldInfo, key: Key, origin: Origin | None
    ) -> Iterator[Input]:
        """One value, or what a list or an entry holds."""
        if isinstance(value, (BarMaterial, WorkMaterial)) and is_shipped(value):
            yield from self.entry(value, key, "shipped table")
        elif isinstance(value, Entry):
            yield from self.entry(value, key, origin)
        elif isinstance(value, tuple):
            for number, item in enumerate(value):
                yield from self.value(item, field, (*key, number), origin)
        else:
            yield self.single(value, kind_of(field), key, origin or "typed")

    def single(self, value: Any, kind: str, key: Key, origin: Origin) -> Input:
        """One value with its origin, range and text."""
        if key in self.measured:
            origin, text = "measured", self.measured[key]
        else:  # a shipped material is typed as one word in the place of all its values
            text = self.typed.get(key[:-1] if key[-1:] == ("name",) else key, "")
            text = text or self.typed.get(key, "")
            if origin == "typed" and key in self.chosen:
                origin = "chosen by plan"
        spread: tuple[float, float] | None = None
        if isinstance(value, Estimate):
            spread, value = (value.low, value.high), float(value)
        elif isinstance(value, Fit):
            spread, value = (value.lower, value.upper), value.nominal
        unit = SI_UNIT.get(kind, "")
        return Input(dotted(key), value, kind, unit, origin, spread, text)
