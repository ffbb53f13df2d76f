"""An entry of a case: a frozen record whose quantities are read as the shop says them.

Each quantity type below is a plain SI float in the code (metres, newtons, hertz) and a text
with its unit in the file. A value typed with a range comes in as an `Estimate`: a float that
remembers how low and how high it may be.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, PlainValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from .units import EXAMPLES, Estimate, Fit, UnitError, parse_fit, parse_quantity, show


class Entry(BaseModel):
    """Base of all nouns of a case: frozen, unknown keys refused."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", arbitrary_types_allowed=True, use_attribute_docstrings=True
    )


def quantity(
    kind: str, *, above: float = -math.inf, least: float = -math.inf, most: float = math.inf
) -> Any:
    """Annotated float read from text of `kind`, held above, at least, and at most a bound (SI)."""

    def read(value: object) -> float:
        number = _number(value, kind)
        low = number.low if isinstance(number, Estimate) else number
        high = number.high if isinstance(number, Estimate) else number
        if low <= above:
            raise _out_of_range(number, kind, f"more than {show(above, kind)}")
        if low < least:
            raise _out_of_range(number, kind, f"at least {show(least, kind)}")
        if high > most:
            raise _out_of_range(number, kind, f"at most {show(most, kind)}")
        return number

    bare = kind in ("share", "ratio")
    schema = {
        "type": ["string", "number"] if bare else "string",
        "examples": EXAMPLES[kind].split(", "),
    }
    return Annotated[float, PlainValidator(read), WithJsonSchema(schema), Kind(kind)]


def _number(value: object, kind: str) -> float:
    """SI value of the text or number given for a quantity."""
    if isinstance(value, str):
        try:
            return parse_quantity(value, kind)
        except UnitError as error:
            raise _wrong(str(error)) from None
    if not isinstance(value, (int, float)) or isinstance(value, bool):
        message = f"this needs one quantity such as {EXAMPLES[kind]}"
        raise _wrong(message)
    endless = math.isinf(value) and not kind.endswith("stiffness")
    if endless or math.isnan(value):
        message = f"{value} is not a quantity; give a number"
        raise _wrong(message)
    return value if isinstance(value, Estimate) else float(value)


def _out_of_range(number: float, kind: str, bound: str) -> PydanticCustomError:
    return _wrong(f"{show(number, kind)} is out of range: this must be {bound}")


def _wrong(message: str) -> PydanticCustomError:
    return PydanticCustomError("quantity", "{m}", {"m": message})


class Kind:
    """Marks a field of an entry with the kind of quantity it holds."""

    def __init__(self, name: str) -> None:
        self.name = name


LONGEST = 100.0  # m: far beyond any lathe, so a slip of the keyboard

if TYPE_CHECKING:  # what is left of a quantity once it is read
    Length = float
    LengthOrZero = float
    Position = float
    Feed = float
    Force = float
    ForceOrZero = float
    Mass = float
    MassAboveZero = float
    Stiffness = float
    StiffnessOrZero = float
    TurnStiffness = float
    Damping = float
    Stress = float
    Density = float
    SpindleSpeed = float
    SurfaceSpeed = float
    Frequency = float
    Power = float
    Angle = float
    Direction = float
    Share = float
    Ratio = float
    PoissonRatio = float
    Exponent = float
    LineDamping = float
else:
    Length = quantity("length", above=0.0, most=LONGEST)
    LengthOrZero = quantity("length", least=0.0, most=LONGEST)
    Position = quantity("length", least=-LONGEST, most=LONGEST)
    Feed = quantity("feed", above=0.0)
    Force = quantity("force")
    ForceOrZero = quantity("force", least=0.0)
    Mass = quantity("mass", least=0.0)
    MassAboveZero = quantity("mass", above=0.0)
    Stiffness = quantity("stiffness", above=0.0)
    StiffnessOrZero = quantity("stiffness", least=0.0)
    TurnStiffness = quantity("turn stiffness", least=0.0)
    Damping = quantity("damping", least=0.0)
    Stress = quantity("stress", above=0.0)
    Density = quantity("density", above=0.0)
    SpindleSpeed = quantity("spindle speed", above=0.0)
    SurfaceSpeed = quantity("surface speed", above=0.0)
    Frequency = quantity("frequency", above=0.0)
    Power = quantity("power", above=0.0)
    Angle = quantity("angle", least=-math.pi / 2, most=math.pi / 2)
    Direction = quantity("angle", least=-2 * math.pi, most=2 * math.pi)
    Share = quantity("share", least=0.0, most=1.0)
    Ratio = quantity("ratio", above=0.0)
    PoissonRatio = quantity("ratio", least=0.0, most=0.5)
    Exponent = quantity("ratio", least=0.0, most=0.95)
    LineDamping = quantity("stiffness", least=0.0, most=1e9)


def _read_fit(value: object) -> Fit:
    if isinstance(value, Fit):
        return value
    if isinstance(value, str):
        try:
            return parse_fit(value)
        except UnitError as error:
            raise _wrong(str(error)) from None
    message = f"this needs a size with its limits such as {EXAMPLES['fit']}"
    raise _wrong(message)


if TYPE_CHECKING:
    BoreSize = Fit
else:
    BoreSize = Annotated[
        Any,  # not Fit, whose own serializer refuses what the validator made
        PlainValidator(_read_fit),
        WithJsonSchema({"type": "string", "examples": EXAMPLES["fit"].split(", ")}),
        Kind("fit"),
    ]


def estimates_at(
    entry: Entry, names: Iterable[str], end: Literal["low", "high"]
) -> dict[str, float]:
    """Values of those fields that were given as a range, at one end of it."""
    values = ((name, getattr(entry, name)) for name in names)
    return {name: getattr(v, end) for name, v in values if isinstance(v, Estimate)}
