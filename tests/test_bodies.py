"""The 3-D files: reopened by other readers, weighed against formulas, moved as the tables say."""

from __future__ import annotations

import struct
from dataclasses import replace
from math import pi, sqrt, tan
from pathlib import Path

import numpy as np
import pygltflib
import pytest
import trimesh
from results_folders import INCH, METRIC, write_folder
from scipy.integrate import quad

from barwright.analysis import bodies
from barwright.analysis.bar_body import Surface, bar_surface, stl
from barwright.analysis.bar_moves import MOTIONS, SWING, carried
from barwright.analysis.casefile import read_case
from barwright.analysis.finished import Finished, read_finished
from barwright.analysis.glb import BENT, SET_UP, Body, edges, glb, shaded


def shapes(folder: Path, stations: np.ndarray) -> None:
    """A table of two modes: half a sine up, and a steady twist."""
    lines = ["number,station,radial,tangential,along,slope_bit,slope_across,turn"]
    lines += ["-,mm,-,-,-,1/m,1/m,1/m"]
    length = stations[-1] - stations[0]
    for x in stations:
        u = pi * (x - stations[0]) / length
        slope = pi / length * np.cos(u)
        lines.append(f"1,{1e3 * x},{np.sin(u)},0,0,{slope},0,0")
    for x in stations:
        lines.append(f"2,{1e3 * x},0,0,0,0,0,{60 * (x - stations[0]) / length}")
    (folder / "mode_shapes.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


@pytest.fixture(params=[METRIC, INCH], ids=["metric", "inch"])
def finished(tmp_path: Path, request: pytest.FixtureRequest) -> Finished:
    folder = write_folder(tmp_path / "run", request.param, ("bit", "torsion"))
    done = read_finished(folder)
    shapes(folder, np.linspace(*done.case.ends, 21))
    return done


def joined(body: trimesh.Trimesh) -> trimesh.Trimesh:
    """A mesh whose points were split for shading, with those at one place made one again."""
    copy = body.copy()
    copy.merge_vertices(merge_norm=True)
    return copy


def removed(radius: float) -> float:
    """What METRIC's hole, tapping and tail centre take out of the bar, m^3, by integration."""
    half, middle, screw = 0.005, -0.005, 0.003
    chord = quad(lambda t: 2 * sqrt(radius**2 - t**2), middle - half, middle + half)[0]
    wall = middle + half

    def depth(r: float) -> float:
        return 2 * sqrt(max(screw**2 - r**2, 0.0)) * (sqrt(radius**2 - r**2) - wall)

    tapping = quad(depth, -screw, screw)[0]
    wide, narrow = radius / 4, 0.35 * radius / 4
    cone = pi / 3 * (wide - narrow) / tan(pi / 6) * (wide**2 + wide * narrow + narrow**2)
    return float(2 * half * chord + tapping + cone)


def test_bar_has_the_volume_of_the_turned_bar_less_its_holes(tmp_path: Path) -> None:
    case = read_case(write_folder(tmp_path / "run") / "case.yaml")
    radius, length = case.bar.diameter / 2, case.ends[1] - case.ends[0]
    path = tmp_path / "bar.stl"
    path.write_bytes(stl(bar_surface(case), "test"))
    body = trimesh.load(path)
    assert body.is_watertight
    assert body.is_winding_consistent
    # Facets lie inside the round by 2e-4 of its area.
    facets = 180 / (2 * pi) * np.sin(2 * pi / 180) / 1.0
    turned = pi * radius**2 * length * facets
    assert body.volume * 1e-9 == pytest.approx(turned - removed(radius), rel=2e-6)


def test_hole_and_screw_are_on_the_sides_that_the_case_says(tmp_path: Path) -> None:
    case = read_case(write_folder(tmp_path / "run") / "case.yaml")
    points = bar_surface(case).points
    hole = case.cross_hole
    near = np.abs(points[:, 0] - hole.position) < 0.499 * hole.size
    mouth = near & (np.abs(points[:, 2]) < 0.0145) & (points[:, 1] > 0)
    # 5 mm off towards the trailing side: from the centre line to t = -10 mm.
    assert points[mouth, 2].min() > -0.0101
    rim = np.abs(points[:, 0] - hole.position) < 0.99 * 0.003
    tapped = rim & (np.abs(points[:, 1]) < 0.0029) & (np.abs(points[:, 2]) > 0.0155)
    assert tapped.any()
    assert np.all(points[tapped, 2] > 0)


def test_flat_takes_its_depth_off_its_side(tmp_path: Path) -> None:
    folder = write_folder(
        tmp_path / "run",
        METRIC.replace(
            "span: 520 mm}",
            "span: 520 mm, flats: [{start: 50 mm, end: 90 mm, depth: 2 mm, side: leading}]}",
        ),
    )
    points = bar_surface(read_case(folder / "case.yaml")).points
    on_flat = (points[:, 0] > 0.051) & (points[:, 0] < 0.089)
    between = points[(points[:, 0] > 0.0499) & (points[:, 0] < 0.0901)]
    assert not on_flat.any() or points[on_flat, 2].max() < 0.014 + 1e-9
    assert np.isclose(between[:, 2], 0.014, atol=1e-9).sum() >= 4


def test_set_up_reopens_with_its_bodies_closed_and_in_place(finished: Finished) -> None:
    case = finished.case
    bodies.write_bodies(finished)
    scene = trimesh.load(finished.folder / SET_UP)
    solid = {n: joined(b) for n, b in scene.geometry.items() if hasattr(b, "faces")}
    assert {"bar", "bit", "work"} <= set(solid)
    assert case.supports.drive.kind in solid
    assert all(body.is_watertight and body.volume > 0 for body in solid.values())
    assert solid["bar"].bounds[:, 0] == pytest.approx(case.ends, abs=1e-6)
    low, high = solid["bit"].bounds
    assert np.hypot(high[1], 0.0) == pytest.approx(case.edge_radius, abs=1e-6)
    assert (low[2], high[2]) == pytest.approx((-case.bit.size, 0.0), abs=1e-6)
    assert solid["work"].bounds[1, 1] > case.work.bore.nominal / 2


def moved(model: pygltflib.GLTF2, name: str, target: int) -> tuple[np.ndarray, np.ndarray]:
    """Points of a body and how far they go in one of its morph targets, by another reader."""
    mesh = next(mesh for mesh in model.meshes if mesh.name == name)
    primitive = mesh.primitives[0]
    where = primitive.attributes.POSITION, primitive.targets[target]["POSITION"]
    return tuple(read(model, accessor) for accessor in where)  # type: ignore[return-value]


def read(model: pygltflib.GLTF2, number: int) -> np.ndarray:
    accessor = model.accessors[number]
    view = model.bufferViews[accessor.bufferView]
    width = {"VEC3": 3, "SCALAR": 1}[accessor.type]
    data = model.binary_blob()[view.byteOffset : view.byteOffset + view.byteLength]
    found = np.array(struct.unpack(f"<{accessor.count * width}f", data))
    return found.reshape(-1, width)


def test_bent_bar_moves_as_its_table_says_times_the_factor_in_its_name(
    finished: Finished,
) -> None:
    bodies.write_bodies(finished)
    model = pygltflib.GLTF2().load(finished.folder / BENT)
    name = model.animations[0].name
    factor = float(name.rpartition("drawn ")[2].split()[0].replace(",", ""))
    points, move = moved(model, "bar", 0)
    station = finished.deflection["station"] * 1e-3
    expected = np.interp(points[:, 0], station, finished.deflection["tangential"]) * 1e-6
    np.testing.assert_allclose(move[:, 2], factor * expected, atol=1e-7)
    assert np.abs(move).max() < SWING * (station[-1] - station[0]) * 1.01


def test_a_twisting_mode_turns_the_bar_about_its_centre_line(finished: Finished) -> None:
    bodies.write_bodies(finished)
    model = pygltflib.GLTF2().load(finished.folder / BENT)
    points, move = moved(model, "bar", 2)
    assert np.abs(move[:, 0]).max() < 1e-9
    np.testing.assert_allclose(np.sum(points[:, 1:] * move[:, 1:], axis=1), 0.0, atol=1e-9)
    assert np.abs(move).max() > 1e-3


def test_each_movement_is_an_animation_of_its_own_that_swings_to_its_full(
    finished: Finished,
) -> None:
    bodies.write_bodies(finished)
    model = pygltflib.GLTF2().load(finished.folder / BENT)
    assert [one.name.split(":")[0] for one in model.animations] == [
        "bent by the cut",
        "mode 1",
        "mode 2",
    ]
    for place, one in enumerate(model.animations):
        weights = read(model, one.samplers[0].output).reshape(-1, 3)
        assert np.abs(np.delete(weights, place, axis=1)).max() == 0
        assert weights[:, place].max() == pytest.approx(1.0)
        assert weights[:, place].min() == pytest.approx(0.0 if place == 0 else -1.0)
        assert np.abs(weights[[0, -1]]).max() < 1e-6


def test_the_same_run_gives_the_same_bytes(finished: Finished) -> None:
    names = bodies.write_bodies(finished)
    first = [(finished.folder / name).read_bytes() for name in names]
    bodies.write_bodies(finished)
    assert first == [(finished.folder / name).read_bytes() for name in names]


def test_no_bent_bar_where_nothing_was_solved(finished: Finished) -> None:
    bare = replace(finished, deflection={}, modes=())
    assert BENT not in bodies.write_bodies(bare)


def test_a_turn_of_a_section_carries_its_outside_round() -> None:
    """A section that turns by a moves a point at radius R by R a, square to the radius."""
    points = np.array([[0.5, 0.02, 0.0], [0.5, 0.0, 0.02]])
    motion = {"turn": np.array([0.0, 0.002])}
    expected = [[0, 0, 0.02 * 0.001], [0, -0.02 * 0.001, 0]]
    np.testing.assert_allclose(carried(points, np.array([0.0, 1.0]), motion), expected)


def test_a_slope_pulls_in_the_side_towards_which_the_bar_rises() -> None:
    """Plane sections: u_x = -y w' (Euler and Bernoulli)."""
    motion = {name: np.full(2, 0.0) for name in MOTIONS} | {"slope_bit": np.full(2, 0.001)}
    found = carried(np.array([[0.3, 0.01, 0.0]]), np.array([0.0, 1.0]), motion)
    np.testing.assert_allclose(found, [[-1e-5, 0, 0]])


def cube() -> Body:
    box = trimesh.creation.box()
    return Body(name="cube", points=box.vertices, joined=box.faces, colour="#808080")


def test_a_cube_has_twelve_edges_and_three_normals_at_each_corner() -> None:
    assert len(edges(cube(), "#000000").joined) == 12
    lit = shaded(cube())
    assert lit.normals is not None
    assert len(lit.points) == 24
    assert np.sort(np.abs(lit.normals), axis=1) == pytest.approx(np.tile([0, 0, 1], (24, 1)))


def test_a_round_body_is_lit_as_round() -> None:
    rod = trimesh.creation.cylinder(radius=1.0, height=2.0, sections=48)
    lit = shaded(Body(name="rod", points=rod.vertices, joined=rod.faces, colour="#808080"))
    assert lit.normals is not None
    side = np.abs(lit.normals[:, 2]) < 0.5
    np.testing.assert_allclose(lit.normals[side, :2], lit.points[side, :2], atol=0.04)


def test_colours_are_told_as_light() -> None:
    """SRGB #808080 is 0.2159 of the light (IEC 61966-2-1)."""
    model = pygltflib.GLTF2.load_from_bytes(glb([cube()]))
    found = model.materials[0].pbrMetallicRoughness.baseColorFactor
    assert found == pytest.approx([0.21586, 0.21586, 0.21586, 1.0], abs=1e-5)


def test_moving_pictures_go_there_and_back_and_say_what_they_are(finished: Finished) -> None:
    """A push goes one way and back; a mode swings both ways; rest is where each begins."""
    from PIL import Image

    from barwright.analysis.animation import FRAMES, write_animations

    names = write_animations(finished)
    assert names == ("deflected.gif", "mode_1.gif", "mode_2.gif")
    for name in names:
        with Image.open(finished.folder / name) as picture:
            assert picture.n_frames == FRAMES  # type: ignore[attr-defined]
            assert picture.info["loop"] == 0
            frames = []
            for number in range(FRAMES):
                picture.seek(number)
                frames.append(np.asarray(picture.convert("RGB")).astype(int)[40:])
        half, quarter = FRAMES // 2, FRAMES // 4
        moved = [int(np.abs(frame - frames[0]).sum()) for frame in frames]
        assert moved[quarter] > 1e5
        assert (moved[half] > 1e5) == (name == "deflected.gif")
        assert np.array_equal(frames[1], frames[half - 1]) == (name != "deflected.gif")


def test_a_sliver_without_a_face_has_no_normal_and_breaks_nothing() -> None:
    points = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [2, 0, 0]])
    faces = np.array([[0, 1, 2], [0, 1, 3]])  # the second lies on one line
    content = stl(Surface(points=points, faces=faces), "x")
    normals = [struct.unpack_from("<3f", content, 84 + 50 * number) for number in range(2)]
    assert normals == [(0.0, 0.0, 1.0), (0.0, 0.0, 0.0)]
