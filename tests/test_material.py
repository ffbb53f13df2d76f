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


PRINTED: dict[str, tuple[str, tuple[float, ...]]] = {
    # What the sources of the check sheet print, each within the range that is shipped; from
    # memory where the table's own sources say so.
    "mild steel hot rolled": ("yield_strength", (221e6, 250e6)),
    "mild steel cold drawn": ("yield_strength", (372e6, 414e6, 517e6)),
    "12L14": ("yield_strength", (414e6, 517e6)),
    "1144": ("yield_strength", (621e6, 690e6)),
    "4140 annealed": ("yield_strength", (417e6,)),
    "4140 prehard": ("yield_strength", (720e6, 760e6, 862e6, 965e6)),
    "4140 quenched and tempered": ("yield_strength", (655e6, 834e6)),
    "drill rod": ("yield_strength", (370e6, 450e6)),
    "6061": ("yield_strength", (255e6, 276e6)),
    "tungsten alloy": ("density", (16850.0, 17300.0)),
    "cemented carbide": ("elastic_modulus", (580e9, 640e9)),
}
TENSILE = {
    "mild steel hot rolled": (400e6,),
    "mild steel cold drawn": (441e6, 483e6, 586e6),
    "12L14": (483e6, 586e6),
    "1144": (690e6, 793e6),
    "4140 annealed": (655e6,),
    "4140 prehard": (860e6, 900e6, 965e6, 1069e6),
    "4140 quenched and tempered": (758e6, 951e6),
    "6061": (290e6, 310e6),
}


def ends(value: object) -> tuple[float, float]:
    """Range of a value of a table; one without is its own range."""
    assert isinstance(value, float)
    return float(getattr(value, "low", value)), float(getattr(value, "high", value))


@pytest.mark.parametrize("name", PRINTED)
def test_range_of_a_bar_material_holds_what_its_sources_print(name: str) -> None:
    what, printed = PRINTED[name]
    low, high = ends(getattr(bar_materials()[name], what))
    assert low <= min(printed)
    assert max(printed) <= high


@pytest.mark.parametrize("name", TENSILE)
def test_range_of_breaking_stress_holds_what_its_sources_print(name: str) -> None:
    low, high = ends(bar_materials()[name].tensile_strength)
    assert low <= min(TENSILE[name])
    assert max(TENSILE[name]) <= high


def test_steels_have_one_stiffness_within_what_books_differ() -> None:
    """A handbook gives 207 GPa to carbon and alloy steels alike, a data base 190 GPa to all."""
    steels = [metal for metal in bar_materials().values() if 185e9 < metal.elastic_modulus < 220e9]
    assert len(steels) >= 9
    likely = [float(metal.elastic_modulus) for metal in steels]
    assert max(likely) / min(likely) <= 1.03
    for metal in steels:
        low, high = ends(metal.elastic_modulus)
        assert low <= 190e9
        assert high >= 206.8e9


FEET = 0.3048 / 60
HSS_SPEEDS = [  # as printed: slow practice first, then the Ferrous Metals Data Book
    ("low-carbon steel", 45 * FEET, "Jones, machine steel"),
    ("low-carbon steel", 150 * FEET, "table 9-2, 125 to 175 HB, 0.040 in deep, 0.007 ipr"),
    ("medium-carbon steel", 130 * FEET, "table 9-3, 175 to 225 HB"),
    ("medium-carbon steel", 115 * FEET, "table 9-3, 225 to 275 HB"),
    ("free-machining steel", 170 * FEET, "table 9-1, 1144 class"),
    ("free-machining steel", 295 * FEET, "table 9-1, 1213 and 1215"),
    ("4140 annealed", 135 * FEET, "table 9-6, 175 to 225 HB"),
    ("4140 annealed", 35 * FEET, "Jones, annealed tool steel"),
    ("4140 prehard", 90 * FEET, "table 9-6, 275 to 325 HB, cobalt steel"),
    ("grey iron", 40 * FEET, "Jones, grey iron"),
    ("grey iron", 25 / 60, "handbooks, class 30, from memory"),
    ("brass", 150 * FEET, "Jones, yellow brass"),
    ("brass", 90 / 60, "handbooks, from memory"),
    ("phosphor bronze", 35 * FEET, "Jones, hard bronze"),
    ("leaded bronze", 25 / 60, "handbooks, from memory"),
    ("6061", 90 / 60, "handbooks, from memory"),
    ("6061", 180 / 60, "handbooks, from memory"),
]


@pytest.mark.parametrize(("name", "speed", "source"), HSS_SPEEDS)
def test_window_of_speed_for_high_speed_steel_reaches_what_is_printed(
    name: str, speed: float, source: str
) -> None:
    """Rounded to whole m/min in the table, so half of one is allowed."""
    work = work_materials()[name]
    assert work.hss_speed_least is not None
    assert work.hss_speed_most is not None
    half = 0.5 / 60
    assert work.hss_speed_least - half <= speed <= work.hss_speed_most + half, source


def test_window_of_speed_spans_what_slow_and_fast_books_say() -> None:
    """Old practice and a modern data book part by two to three and a half times in steel."""
    for name in ("low-carbon steel", "medium-carbon steel", "4140 annealed", "4140 prehard"):
        work = work_materials()[name]
        assert work.hss_speed_least is not None
        assert work.hss_speed_most is not None
        assert 2 <= work.hss_speed_most / work.hss_speed_least <= 4


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
        ("EN8", "1045"),
        ("C45", "1045"),
        ("42CrMo4", "4140 annealed"),
        ("1.7225", "4140 annealed"),
        ("42CrMo4+QT", "4140 quenched and tempered"),
        ("S235JR", "mild steel hot rolled"),
        ("EN3B", "mild steel cold drawn"),
        ("11SMnPb37", "12L14"),
    ],
)
def test_a_bar_material_answers_to_its_shop_names(said: str, name: str) -> None:
    assert bar_choice.validate_python(said).name == name


def test_a_stronger_steel_is_not_taken_for_4140() -> None:
    """EN24 and 34CrNiMo6 are of the 4340 class (from memory); no row stands for them."""
    for name in ("EN24", "34CrNiMo6"):
        with pytest.raises(ValidationError, match="not in the table"):
            bar_choice.validate_python(name)


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
