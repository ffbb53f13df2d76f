"""The shipped materials: their values against the sheet they come from, and how they are named."""

import pytest
from pydantic import TypeAdapter, ValidationError

from barwright.analysis.material import (
    BarMaterial,
    BarMaterialChoice,
    WorkMaterial,
    WorkMaterialChoice,
    bar_materials,
    is_shipped,
    work_materials,
)
from barwright.analysis.units import Estimate

bar_choice: TypeAdapter[BarMaterial] = TypeAdapter(BarMaterialChoice)
work_choice: TypeAdapter[WorkMaterial] = TypeAdapter(WorkMaterialChoice)


@pytest.mark.parametrize(
    ("name", "modulus", "density", "yield_strength"),
    [  # check sheet 7b
        ("mild steel hot rolled", (200e9, 207e9), 7870, 221e6),
        ("mild steel cold drawn", (200e9, 207e9), 7870, 372e6),
        ("12L14", (200e9, 207e9), 7870, 414e6),
        ("1144", (200e9, 207e9), 7850, 621e6),
        ("4140 annealed", (205e9, 205e9), 7850, 417e6),
        ("4140 prehard", (205e9, 205e9), 7850, 760e6),
        ("6061", (68.9e9, 68.9e9), 2710, 255e6),
    ],
)
def test_bar_materials_are_those_of_the_sheet(
    name: str, modulus: tuple[float, float], density: float, yield_strength: float
) -> None:
    material = bar_materials()[name]
    assert modulus[0] <= material.elastic_modulus <= modulus[1]
    assert material.density == density
    assert material.yield_strength == yield_strength


def test_4140_is_hardly_stiffer_than_mild_steel_and_its_books_differ_more() -> None:
    mild, alloy = bar_materials()["mild steel hot rolled"], bar_materials()["4140 annealed"]
    assert 1.0 <= alloy.elastic_modulus / mild.elastic_modulus <= 1.03
    assert isinstance(mild.elastic_modulus, Estimate)
    spread = mild.elastic_modulus.high / mild.elastic_modulus.low
    assert spread > alloy.elastic_modulus / mild.elastic_modulus


def test_shear_modulus_agrees_with_the_sheet() -> None:
    # Sheet 7b: 205 / 2.58 = 79.46 GPa.
    assert bar_materials()["4140 prehard"].shear_modulus == pytest.approx(79.46e9, rel=1e-4)


@pytest.mark.parametrize(
    ("name", "specific_force", "exponent"),
    [  # check sheet 4a
        ("low-carbon steel", 1780e6, 0.17),
        ("medium-carbon steel", 2220e6, 0.14),
        ("4140 annealed", 2500e6, 0.26),
        ("grey iron", 1160e6, 0.26),
        ("brass", 780e6, 0.18),
        ("leaded bronze", 700e6, 0.27),
    ],
)
def test_work_materials_are_those_of_the_sheet(
    name: str, specific_force: float, exponent: float
) -> None:
    material = work_materials()[name]
    assert (material.specific_force, material.force_exponent) == (specific_force, exponent)


def test_every_shipped_value_says_where_it_comes_from() -> None:
    tables: list[BarMaterial | WorkMaterial]
    tables = [*bar_materials().values(), *work_materials().values()]
    unsaid = {"name", "condition", "sources", "feed_least", "feed_most"}
    for material in tables:
        values = material.model_fields_set - unsaid
        assert values <= material.sources.keys(), material.name


def test_every_work_material_has_a_range_for_what_sets_the_force() -> None:
    for material in work_materials().values():
        for value in (material.specific_force, material.normal_force):
            assert isinstance(value, Estimate)
            assert value.low < value < value.high


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("4140", "4140 annealed"),
        ("crs", "mild steel cold drawn"),
        ("1018", "mild steel hot rolled"),
        ("  4140   PREHARD ", "4140 prehard"),
        ("drill_rod", "drill rod"),
        ("6061-T6", "6061"),
    ],
)
def test_a_bar_material_answers_to_its_shop_names(said: str, name: str) -> None:
    assert bar_choice.validate_python(said).name == name


def test_no_two_materials_of_a_table_share_a_name() -> None:
    from barwright.analysis.material import _rows

    for table in ("bar_materials", "work_materials"):
        names = [name.lower() for row in _rows(table) for name in (row[0], *row[2])]
        assert len(names) == len(set(names))


def test_an_unknown_material_is_answered_with_the_nearest() -> None:
    with pytest.raises(ValidationError, match=r"did you mean leaded bronze\? It has: low-carbon"):
        work_choice.validate_python("leaded bronz")
    with pytest.raises(ValidationError, match=r"`zzz` is not in the table\. It has: mild steel"):
        bar_choice.validate_python("zzz")


def test_own_values_make_a_material() -> None:
    own = bar_choice.validate_python(
        {
            "name": "stress-proof",
            "elastic_modulus": "205 GPa",
            "density": ".283 lb/in3",
            "yield_strength": "100 ksi",
        }
    )
    assert own.elastic_modulus == 205e9
    assert not is_shipped(own)
    assert is_shipped(bar_materials()["12L14"])
    assert is_shipped(work_materials()["babbitt"])
