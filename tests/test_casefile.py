"""Case files: read, measured values put in place, origins kept, written back, and their schema."""

import json
import math
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from barwright.analysis.case import Case, conflicts
from barwright.analysis.casefile import (
    CaseFile,
    Source,
    case_schema,
    parse_case,
    read_case,
    read_case_file,
    write_case,
)
from barwright.analysis.inputs import Input, inputs
from barwright.analysis.units import Estimate, Fit

CASES = Path(__file__).parents[1] / "cases"
PUMP, SLUICE = CASES / "pump_bracket.yaml", CASES / "sluice_gate_pivot.yaml"


def _read(text: str) -> CaseFile:
    return parse_case(Source(file="case.yaml", name="case.yaml", text=text, sha256=""))


def _by_name(case_file: CaseFile) -> dict[str, Input]:
    return {entry.name: entry for entry in case_file.inputs}


# --- reading ---------------------------------------------------------------------------------


def test_quantities_arrive_in_si() -> None:
    case = read_case(PUMP)
    assert (case.bar.diameter, case.bar.span) == (0.028, 0.38)
    assert case.work.bore.upper == pytest.approx(0.044025)
    assert case.spindle_speed == pytest.approx(1.5)  # 90 rpm


def test_scalars_stay_text() -> None:
    # YAML 1.1 would make these 8, 90, False and a date.
    text = PUMP.read_text().replace("part: pump bracket", "part: 010")
    text = text.replace("note: cored 42 mm, two passes", "note: 1:30\n  drawing: no")
    job = _read(text).case.job
    assert (job.part, job.note, job.drawing) == ("010", "1:30", "no")


def test_the_same_case_in_inches_and_in_millimetres_is_the_same_case() -> None:
    inch = SLUICE.read_text()
    metric = inch
    for there, here in {
        "diameter: 1-1/4 in": "diameter: 31.75 mm",
        "span: 15-1/2 in": "span: 393.7 mm",
        "drive_overhang: 1/2 in": "drive_overhang: 12.7 mm",
        "size: 5/16 in": "size: 7.9375 mm",
        "position: 7-3/4 in": "position: 196.85 mm",
        "offset: 5/32 in": "offset: 3.96875 mm",
        "diameter: 1/4 in": "diameter: 6.35 mm",
        "length: 1-1/2 in": "length: 38.1 mm",
        "nose_radius: 15 thou": "nose_radius: 0.381 mm",
        "dog_position: 3/4 in": "dog_position: 19.05 mm",
        "dog_mass: 0.8 lb": "dog_mass: 0.362873896 kg",
        "start_bore: 1.865 in": "start_bore: 47.371 mm",
        "bore: 1.875 +.001 -0 in": "bore: 47.625 +0.0254 -0 mm",
        "length: 2-1/2 in": "length: 63.5 mm",
        "depth: 5 thou": "depth: 0.127 mm",
        "feed: .004 ipr": "feed: 0.1016 mm/rev",
        "between_centres: 24 in": "between_centres: 609.6 mm",
    }.items():
        assert there in metric
        metric = metric.replace(there, here)
    one, other = _read(inch), _read(metric)

    def values(case_file: CaseFile) -> list[tuple[object, ...]]:
        return [(entry.name, entry.value, entry.range) for entry in case_file.inputs]

    assert values(one) == values(other)


def test_the_source_is_kept_with_its_fingerprint() -> None:
    case_file = read_case_file(PUMP)
    assert case_file.name == "pump_bracket.yaml"
    assert case_file.source.text == PUMP.read_text()
    assert len(case_file.sha256) == 64
    assert read_case_file(SLUICE).sha256 != case_file.sha256


# --- origins ---------------------------------------------------------------------------------


def test_each_value_says_where_it_comes_from() -> None:
    found = _by_name(read_case_file(PUMP))
    typed = found["bar.diameter"]
    assert (typed.origin, typed.text, typed.unit) == ("typed", "28 mm", "m")
    guess = found["supports.drive.tilt_stiffness"]
    assert guess.origin == "default guess"
    assert guess.range is not None
    assert guess.range[0] < guess.value < guess.range[1]  # type: ignore[operator]
    assert found["bar.material.elastic_modulus"].origin == "shipped table"
    assert found["bar.material.name"].text == "4140 prehard"
    assert found["work.bore"].range == pytest.approx((0.044, 0.044025))
    assert found["lathe.speeds[2]"].kind == "spindle speed"


def test_own_material_values_are_typed() -> None:
    text = PUMP.read_text().replace(
        "material: 4140 prehard",
        "material: {elastic_modulus: 200 GPa, density: 7850 kg/m3, yield_strength: 700 MPa}",
    )
    found = _by_name(_read(text))
    assert found["bar.material.elastic_modulus"].origin == "typed"
    assert found["bar.material.poisson"].origin == "default guess"


def test_a_measured_value_takes_the_place_of_what_was_typed() -> None:
    measured = (
        "\nmeasured:\n  - {what: supports.tail.radial_stiffness, value: 25 N/um (20 to 30)}\n"
    )
    case_file = _read(PUMP.read_text() + measured)
    assert case_file.case.supports.tail is not None
    stiffness = case_file.case.supports.tail.radial_stiffness
    assert isinstance(stiffness, Estimate)
    assert (float(stiffness), stiffness.low, stiffness.high) == (25e6, 20e6, 30e6)
    entry = _by_name(case_file)["supports.tail.radial_stiffness"]
    assert (entry.origin, entry.text) == ("measured", "25 N/um (20 to 30)")


@pytest.mark.parametrize(
    ("what", "value"),
    [
        ("lathe.speeds", "100 rpm"),
        ("bar.steps[0].diameter", "30 mm"),
        ("lathe.speeds[9]", "100 rpm"),
        ("supports.drive.dog_mass", "0.3 kg"),
        ("supports.others[0].grip", "20 mm"),
        ("title.x", "30 mm"),
        ("bar.diameter.x", "30 mm"),
        ("title", "another"),
        ("..[", "30 mm"),
    ],
)
def test_only_a_quantity_that_is_there_can_be_measured(what: str, value: str) -> None:
    text = PUMP.read_text() + f"\nmeasured:\n  - {{what: '{what}', value: {value}}}\n"
    with pytest.raises(Exception, match="is not a value of this case"):
        _read(text)


def test_a_value_in_a_list_can_be_measured() -> None:
    text = PUMP.read_text() + (
        "\nmeasured:\n  - {what: 'cross_hole.set_screws[0].diameter', value: 5 mm}\n"
        "  - {what: 'lathe.speeds[1]', value: 88 rpm}\n"
        "  - {what: limits.sag, value: 40 um}\n"
    )
    case = _read(text).case
    assert case.cross_hole.set_screws[0].diameter == 0.005
    assert case.lathe.speeds[1] == pytest.approx(88 / 60)
    assert case.limits.sag == pytest.approx(40e-6)


def test_a_case_made_in_python_has_its_origins_too() -> None:
    case = read_case(PUMP)
    by_name = {entry.name: entry for entry in inputs(case)}
    assert by_name["bar.diameter"].origin == "typed"
    assert by_name["bar.diameter"].text == ""
    assert by_name["bit.rake"].origin == "default guess"


# --- writing ---------------------------------------------------------------------------------


@pytest.mark.parametrize("path", sorted(CASES.glob("*.yaml")), ids=lambda path: path.stem)
def test_a_written_case_reads_back_equal(path: Path) -> None:
    once = read_case_file(path)
    again = _read(write_case(once.case))
    assert again.case == once.case

    def facts(case_file: CaseFile) -> list[tuple[object, ...]]:
        return [(e.name, e.value, e.origin, e.range) for e in case_file.inputs]

    assert facts(again) == facts(once)


lengths = st.floats(1e-7, 90.0)
ranges = st.tuples(lengths, lengths, lengths).map(lambda three: sorted(three))


@settings(max_examples=150, deadline=None)
@given(
    span=st.floats(0.3, 3.0),
    offset=st.floats(-0.004, 0.004),
    stiffness=st.floats(1e3, 1e9),
    spread=ranges,
    angle=st.floats(-1.3, 1.3),
    speed=st.floats(0.01, 100.0),
    title=st.text(st.characters(exclude_categories=["C"]), min_size=1, max_size=40),
    feed=st.floats(6e-5, 9e-4),
)
def test_any_numbers_read_back_equal(
    span: float,
    offset: float,
    stiffness: float,
    spread: list[float],
    angle: float,
    speed: float,
    title: str,
    feed: float,
) -> None:
    base = yaml.load(PUMP.read_text(), Loader=yaml.CBaseLoader)
    base["title"] = title
    base["bar"]["span"] = span
    base["cross_hole"] |= {"offset": offset, "position": span / 2}
    base["bit"] |= {"lead_angle": angle}
    base["supports"]["tail"] = {"kind": "live centre", "radial_stiffness": stiffness}
    base["supports"]["drive"]["damping"] = Estimate(spread[1], spread[0], spread[2])
    base["work"] |= {"length": span / 4, "radial_stiffness": math.inf}
    base["work"]["bore"] = Fit(0.044, 0.0439, 0.0441, text="44 +0.1 -0.1 mm")
    base["cut"] = {"depth": "0.2 mm", "speed": speed, "feed": feed}
    base["lathe"] |= {"between_centres": 5.0}
    case = Case.model_validate(base)
    assert not conflicts(case)
    again = _read(write_case(case)).case
    assert again == case
    assert inputs(again) == inputs(case)


@given(lower=st.floats(-1e-3, 0.0), upper=st.floats(0.0, 1e-3), nominal=st.floats(0.04, 0.4))
def test_a_bore_made_in_python_is_written_to_the_picometre(
    lower: float, upper: float, nominal: float
) -> None:
    from barwright.analysis.casefile import _fit_text
    from barwright.analysis.units import parse_fit

    fit = Fit(nominal, nominal + lower, nominal + upper)
    back = parse_fit(_fit_text(fit))
    assert back.nominal == nominal
    assert back.lower == pytest.approx(fit.lower, abs=2e-12)
    assert back.upper == pytest.approx(fit.upper, abs=2e-12)


# --- schema ----------------------------------------------------------------------------------


def test_the_committed_schema_is_the_one_the_code_gives() -> None:
    committed = json.loads((CASES / "barwright.schema.json").read_text(encoding="utf-8"))
    assert committed == case_schema()


def test_the_schema_says_what_editors_show() -> None:
    schema = case_schema()
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["additionalProperties"] is False
    bar = schema["$defs"]["Bar"]["properties"]
    assert bar["diameter"]["examples"] == ["1-1/4 in", "32 mm", "15 thou"]
    assert bar["span"]["description"].startswith("From the drive support")
    names = bar["material"]["anyOf"][0]["enum"]
    assert "4140 prehard" in names


@pytest.mark.parametrize("path", sorted(CASES.glob("*.yaml")), ids=lambda path: path.stem)
def test_every_shipped_case_points_editors_at_the_schema(path: Path) -> None:
    first = path.read_text(encoding="utf-8").split("\n")[0]
    assert first == "# yaml-language-server: $schema=barwright.schema.json"


def test_what_a_plan_chose_is_not_called_typed() -> None:
    text = PUMP.read_text()
    assert "diameter: 28 mm\n" in text
    found = _by_name(
        _read(text.replace("diameter: 28 mm\n", "diameter: 28 mm  # chosen by plan\n"))
    )
    assert found["bar.diameter"].origin == "chosen by plan"
    assert found["bar.span"].origin == "typed"
