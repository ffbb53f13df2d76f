"""The bored wall as a body: what the last pass left, its error drawn too large.

Drawn where the run left ``bore.vtu``, and beside it ``bore_sharp.vtu``. As in `draw`, the first
plotter that is made on a machine without graphics libraries ends the process.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pyvista
from matplotlib.figure import Figure
from numpy.typing import NDArray

from .bore_charts import EDGES, assumed_words
from .draw import Stage
from .finished import THOU, Finished
from .paper import HEAT, nice_step, picture

SURFACES = {"rubbing": "bore.vtu", "sharp": "bore_sharp.vtu"}
WIDTH, HEIGHT, SHOT = 1600, 960, 640
LONG = 1.2
"""Length that the cut stretch of bore is drawn as, over its radius."""
LEAST_SWING = 1e-6
"""Shades span at least this error either way, m: below it a wall is one shade."""
STEPS = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0)


def draw_bore_surfaces(finished: Finished) -> Iterator[str]:
    """Draw the walls that a folder holds into it, yielding the picture's name once complete."""
    walls = {name: finished.folder / file for name, file in SURFACES.items()}
    found = {name: pyvista.read(path) for name, path in walls.items() if path.exists()}
    if not found:
        return
    draw_bore_surface(Stage(), finished, found, finished.folder / "bore_surface.png")
    yield "bore_surface.png"


def draw_bore_surface(stage: Stage, finished: Finished, walls: dict[str, Any], path: Path) -> None:
    """The walls side by side, looking into the bore."""
    swing = max(LEAST_SWING, *(_swing(wall) for wall in walls.values()))
    stretch = max(1.0, nice_step(LONG / max(_slenderness(wall) for wall in walls.values()), STEPS))
    with picture(path, WIDTH, HEIGHT) as figure:
        for place, (name, wall) in enumerate(walls.items()):
            left = place / 2 if len(walls) > 1 else 0.25
            axes = figure.add_axes((left, 128 / HEIGHT, 0.5, SHOT / HEIGHT))
            axes.imshow(_shot(stage, wall, stretch, swing), aspect="auto")
            axes.axis("off")
            figure.text(
                left + 0.25,
                (128 + SHOT + 6) / HEIGHT,
                f"With {EDGES[name]}",
                ha="center",
                fontsize=13.5,
                weight="bold",
            )
        _words(figure, finished, stretch)
        _key(figure, finished, swing)


def _error(wall: Any) -> NDArray[np.float64]:
    """Error of the radius about its mean, m."""
    error = np.asarray(wall.point_data["wall_error_m"], dtype=float)
    return np.asarray(error - error.mean())


def _swing(wall: Any) -> float:
    return float(np.abs(_error(wall)).max())


def _slenderness(wall: Any) -> float:
    """Length over radius of the stretch that was cut."""
    first, last, _, up, _, _ = wall.bounds
    return float(max((last - first) / up, 1e-6))


def _shot(stage: Stage, wall: Any, stretch: float, swing: float) -> NDArray[np.uint8]:
    """Look into the bore from where the cut began, a little from above and one side."""
    drawn = wall.copy()
    drawn.points = np.asarray(wall.points, dtype=float) * [stretch, 1.0, 1.0]
    plotter = stage.cleared()
    plotter.add_mesh(
        drawn,
        scalars=_error(wall),
        cmap=HEAT,
        clim=(-swing, swing),
        show_scalar_bar=False,
        ambient=0.35,
        diffuse=0.65,
        specular=0.1,
        smooth_shading=False,
    )
    radius = wall.bounds[3]
    middle = np.array([stretch * (wall.bounds[0] + wall.bounds[1]) / 2, 0.0, 0.0])
    plotter.render_window.SetSize(WIDTH // 2, SHOT)
    plotter.camera.parallel_projection = True
    plotter.camera.focal_point = tuple(middle)
    plotter.camera.position = tuple(middle + radius * np.array([-5.0, 2.0, -3.0]))
    plotter.camera.up = (0.0, 1.0, 0.0)
    plotter.camera.parallel_scale = 1.22 * radius
    plotter.renderer.ResetCameraClippingRange()
    plotter.render_window.Render()
    return np.asarray(plotter.image)


def _words(figure: Figure, finished: Finished, stretch: float) -> None:
    history = finished.summary["history"]
    times, turns = history["surface_exaggeration"], history["assumed"]["turns_per_pass"]
    figure.text(0.02, 1 - 46 / HEIGHT, "The wall of the bore", fontsize=18, weight="bold")
    figure.text(
        0.02,
        1 - 66 / HEIGHT,
        f"Wall left by the first {turns} turns of the last pass, its error drawn {times:.6g} "
        f"times too large and its length {stretch:.6g} times; feed marks are not in it.\n"
        f"{assumed_words(finished)}",
        fontsize=12.5,
        va="top",
        linespacing=1.4,
    )


def _key(figure: Figure, finished: Finished, swing: float) -> None:
    """Shade against the error of the radius, in the case's own unit."""
    unit, word = (1.0, "um") if finished.system == "mm" else (THOU, "thou")
    reach = swing * 1e6 / unit
    axes = figure.add_axes((0.30, 64 / HEIGHT, 0.40, 20 / HEIGHT))
    extent = (-reach, reach, 0.0, 1.0)
    axes.imshow(np.linspace(0, 1, 256)[None, :], cmap=HEAT, aspect="auto", extent=extent)
    axes.set_yticks([])
    step = nice_step(reach / 2)
    ticks = [k * step for k in range(-3, 4) if abs(k * step) <= reach]
    axes.set_xticks(ticks, [f"{tick:.3g}" for tick in ticks])
    axes.set_xlabel(f"radius against its mean, {word}", fontsize=12)
