"""The jobs worked by hand in the opening comments of two cases: every number, and the program.

A line of the comment reads ``name = expression = value unit  words; run within N %``. Each
expression is worked out again here, by a calculator of our own that knows arithmetic, roots and
angles in degrees and nothing of the program, from the values as printed above it; the value must
be the printed one to its last digit. Where a line says how near the program comes, the program is
run and held to it. A line that nothing checks fails.
"""

from __future__ import annotations

import ast
import operator
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from math import acos, cos, degrees, pi, radians, sin, sqrt
from pathlib import Path

import pytest

from barwright.analysis.casefile import read_case
from barwright.analysis.run import Outcome, analyse

CASES = Path(__file__).parents[1] / "cases"
JOBS = ("pump_bracket", "sluice_gate_pivot")
LINE = re.compile(
    r"^#   (?P<name>\w+) = (?:(?P<expression>\S+) = )?(?P<value>[\d.]+) (?P<unit>\S+)"
    r"(?:  (?P<words>.*?))?$"
)
WITHIN = re.compile(r"run within ([\d.]+) %$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of a worked job: what is printed, and how near the program is said to come."""

    name: str
    expression: str
    printed: str
    unit: str
    within: float | None

    @property
    def half_a_digit(self) -> float:
        """Half a unit of the last printed digit; whole thousands are round to four digits."""
        whole, _, decimals = self.printed.partition(".")
        if decimals:
            return 0.5 * 10.0 ** -len(decimals)
        return 0.5 * 10.0 ** max(0, len(whole) - 4)


@cache
def worked(job: str) -> tuple[Line, ...]:
    """The lines of a job, in order."""
    found = []
    for text in (CASES / f"{job}.yaml").read_text().splitlines():
        if not text.startswith("#   "):
            continue
        line = LINE.match(text)
        assert line, f"{job}: `{text}` does not read as a line of a worked job"
        near = WITHIN.search(line["words"] or "")
        found.append(
            Line(
                name=line["name"],
                expression=line["expression"] or line["value"],
                printed=line["value"],
                unit=line["unit"],
                within=float(near[1]) / 100 if near else None,
            )
        )
    return tuple(found)


@cache
def outcome(job: str) -> Outcome:
    return analyse(read_case(CASES / f"{job}.yaml"))


# --- a calculator ------------------------------------------------------------------------------

OPERATIONS: dict[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}
FUNCTIONS: dict[str, Callable[[float], float]] = {
    "sqrt": sqrt,
    "sin": lambda angle: sin(radians(angle)),
    "cos": lambda angle: cos(radians(angle)),
    "acos": lambda ratio: degrees(acos(ratio)),
}


def worked_out(expression: str, values: Mapping[str, float]) -> float:
    """Value of an expression as a pocket calculator gives it, angles in degrees."""

    def value(part: ast.expr) -> float:
        match part:
            case ast.Constant(value=int() | float() as number):
                return float(number)
            case ast.Name(id=name):
                return values[name]
            case ast.BinOp(left=left, op=op, right=right):
                return OPERATIONS[type(op)](value(left), value(right))
            case ast.Call(func=ast.Name(id=name), args=[argument]):
                return FUNCTIONS[name](value(argument))
        message = f"a calculator has no key for {ast.dump(part)}"
        raise ValueError(message)

    return value(ast.parse(expression.replace("^", "**"), mode="eval").body)


def test_calculator() -> None:
    assert worked_out("2+3*x^2/4-1", {"x": 2.0}) == 4.0
    assert worked_out("sin(30)+cos(60)+sqrt(16)+acos(0.5)", {}) == pytest.approx(65.0)
    with pytest.raises(ValueError, match="no key"):
        worked_out("'text'", {})


# --- the program's answers ---------------------------------------------------------------------

INCH, POUND = 0.0254, 4.4482216152605
PSI = POUND / INCH**2
Got = Callable[[Outcome], float]


def _screw_margin(found: Outcome) -> float:
    assert found.holding.hold_margin is not None
    return found.holding.hold_margin.likely


def _mean_roughness(found: Outcome) -> float:
    assert found.passes.roughness is not None
    return found.passes.roughness.mean


def _minutes(found: Outcome) -> float:
    minutes = found.passes.passes[-1].minutes
    assert minutes is not None
    return minutes


GOT: dict[str, tuple[Got, dict[str, float]]] = {
    # What the program says, SI, and what one of each unit is in SI.
    "V": (
        lambda found: pi * 2 * found.case.edge_radius * found.case.spindle_speed,
        {"m/min": 1 / 60, "sfm": 0.3048 / 60},
    ),
    "minutes": (_minutes, {"min": 1.0}),
    "Ft": (lambda found: found.force.tangential, {"N": 1.0, "lbf": POUND}),
    "Fr": (lambda found: found.force.radial, {"N": 1.0, "lbf": POUND}),
    "Fx": (lambda found: found.force.axial, {"N": 1.0, "lbf": POUND}),
    "power": (lambda found: found.force.power, {"W": 1.0, "hp": 33000 * 0.3048 * POUND / 60}),
    "torque": (lambda found: found.force.torque, {"N.m": 1.0}),
    "kbar": (
        lambda found: 1 / float(found.statics.compliance[0, 0]),
        {"N/mm": 1e3, "lbf/in": POUND / INCH},
    ),
    "kedge": (
        lambda found: found.statics.stiffness_radial,
        {"N/mm": 1e3, "lbf/in": POUND / INCH},
    ),
    "small": (lambda found: -found.statics.diameter_error, {"um": 1e-6, "thou": 1e-3 * INCH}),
    "pitch": (lambda found: found.modes.first_bending, {"Hz": 1.0}),
    "waves": (lambda found: found.modes.first_bending / found.case.spindle_speed, {"per_turn": 1}),
    "Mb": (lambda found: found.strength.load.bend_bit, {"lbf.in": POUND * INCH}),
    "Ma": (lambda found: found.strength.load.bend_across, {"lbf.in": POUND * INCH}),
    "stress": (lambda found: found.strength.nominal, {"N/mm2": 1e6, "psi": PSI}),
    "push": (lambda found: found.holding.screws[0].preload, {"N": 1.0, "lbf": POUND}),
    "margin": (_screw_margin, {"times": 1.0}),
    "strips": (lambda found: found.holding.screws[0].strips_at, {"N": 1.0, "lbf": POUND}),
    "tight": (lambda found: found.holding.screws[0].torque, {"lbf.in": POUND * INCH}),
    "least": (lambda found: found.holding.screws[0].stripping_torque, {"lbf.in": POUND * INCH}),
    "reading": (lambda found: found.passes.passes[-1].reading, {"mm": 1e-3, "in": INCH}),
    "Ra": (_mean_roughness, {"um": 1e-6, "uin": 1e-6 * INCH}),
}


@pytest.mark.parametrize("job", JOBS)
def test_every_number_is_what_a_calculator_gives(job: str) -> None:
    values = {"pi": pi}
    for line in worked(job):
        found = worked_out(line.expression, values)
        assert abs(found - float(line.printed)) <= 1.0001 * line.half_a_digit, line
        values[line.name] = float(line.printed)
    assert len(values) > 45


@pytest.mark.parametrize("job", JOBS)
def test_program_comes_as_near_as_the_comment_says(job: str) -> None:
    checked = [line for line in worked(job) if line.within is not None]
    assert len(checked) >= 15
    for line in checked:
        got, units = GOT[line.name]
        found = float(got(outcome(job))) / units[line.unit]
        assert found == pytest.approx(float(line.printed), rel=line.within), line


@pytest.mark.parametrize("job", JOBS)
def test_no_answer_is_left_without_the_program_beside_it(job: str) -> None:
    said = {line.name for line in worked(job) if line.within is not None}
    assert said >= GOT.keys() - {"torque", "Mb", "Ma", "least", "tight"}


def test_what_is_given_in_the_comment_is_what_the_cases_say() -> None:
    """Numbers typed into the working, against the cases they stand in, in the comment's units."""
    given = {job: {line.name: float(line.printed) for line in worked(job)} for job in JOBS}
    for job, length, stiffness in (
        ("pump_bracket", 1e-3, 1e3),
        ("sluice_gate_pivot", INCH, POUND / INCH),
    ):
        case, said = read_case(CASES / f"{job}.yaml"), given[job]
        drive, tail = case.supports.drive, case.supports.tail
        assert tail is not None
        behind = -sum(drive.contact) / 2
        wanted = {
            "L": (case.bar.span + behind) / length,
            "k1": drive.radial_stiffness / stiffness,
            "k2": tail.radial_stiffness / stiffness,
            "kw": case.work.radial_stiffness / stiffness,
        }
        for name, value in wanted.items():
            assert said[name] == pytest.approx(value, rel=5e-4), (job, name)
    pump = read_case(CASES / "pump_bracket.yaml")
    assert given["pump_bracket"]["kt"] == pump.supports.drive.tilt_stiffness * 1e3
    assert given["pump_bracket"]["E"] == pump.bar.material.elastic_modulus / 1e6
    sluice = read_case(CASES / "sluice_gate_pivot.yaml")
    assert given["sluice_gate_pivot"]["E"] * PSI == pytest.approx(
        sluice.bar.material.elastic_modulus, rel=5e-4
    )
