"""Print this project beside general finite-element packages, on the same mesh and machine.

Run it by hand: ``python tests/benchmarks/packages.py``, or with ``--quick`` for one mesh and one
run. A square-holed bar of second-order tetrahedra with straight edges (so that every package's
integration is exact and the answers must agree), its drive end face held still: six modes, and
the move of the tail end's nodes under a push. Each package works in a process of its own, which
starts from a file with the mesh; what is not installed is left out and said so. A second table
has the same for a beam on a line.

CalculiX is the command ``ccx``; sfepy, OpenSeesPy and PyNiteFEA come from the package registry.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import os
import platform
import re
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

E, NU, RHO = 205e9, 0.29, 7850.0
D, L = 0.025, 0.4
PUSH = 1000.0
MODES = 6
MESHES = (0.0090, 0.0056, 0.0038, 0.0029)
"""Length of the elements, m: about 10, 28, 70 and 180 thousand unknowns."""
USUAL = 1
STAGES = ("mesh file", "assembly", "factors", "static", "modes")


class Watch:
    """Seconds of each stage."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}

    @contextmanager
    def stage(self, name: str) -> Any:
        """Time a stage."""
        started = time.perf_counter()
        yield
        self.seconds[name] = time.perf_counter() - started


# --- the mesh ----------------------------------------------------------------------------------


def write_mesh(path: Path, element: float) -> int:
    """Mesh the bar with straight edges and write it; gives the number of unknowns."""
    from barwright.analysis.mesh import Hole, round_bar, solid_mesh

    hole = Hole(shape="square", size=0.006, position=0.45 * L)
    made = solid_mesh(round_bar(D, L, hole=hole), element_length=element, hole_length=element / 2)
    mesh = made.mesh
    place = made.nodes.copy()
    place[:, mesh.nvertices :] = place[:, mesh.edges].mean(axis=1)
    cells = mesh.dofs.element_dofs.T
    np.savez(path, place=place, cells=cells, corners=mesh.nvertices)
    return int(place.size)


def loaded(path: Path) -> tuple[Any, Any, Any, Any]:
    """Places (3, n), cells (n_cell, 10), nodes held still, nodes pushed."""
    with np.load(path) as stored:
        place, cells = stored["place"], stored["cells"].astype(np.int64)
    return place, cells, np.flatnonzero(place[0] < 1e-9), np.flatnonzero(place[0] > L - 1e-9)


def push(place: Any, pushed: Any) -> Any:
    """Load along y shared evenly by the nodes pushed, (3 n_node,)."""
    load = np.zeros(place.size)
    load[3 * pushed + 1] = PUSH / pushed.size
    return load


# --- the packages ------------------------------------------------------------------------------


def ours(path: Path) -> dict[str, Any]:
    """Kernels and factors of this project; the modes are also counted."""
    from scipy.sparse import diags_array
    from scipy.sparse.linalg import LinearOperator, eigsh
    from skfem import Basis, ElementTetP2, MeshTet2

    from barwright.analysis.elastic import in_three, scalar_mass, stiffness
    from barwright.analysis.fronts import cholesky, fronts_of, inertia
    from barwright.analysis.material import BarMaterial

    watch = Watch()
    with watch.stage("mesh file"):
        place, cells, still, pushed = loaded(path)
        mesh = MeshTet2(place, np.ascontiguousarray(cells.T))
    steel = BarMaterial(elastic_modulus=E, poisson=NU, density=RHO, yield_strength=1e9)
    with watch.stage("assembly"):
        basis = Basis(mesh, ElementTetP2(), intorder=4)
        K = stiffness(basis, steel)
        M = in_three(scalar_mass(basis, np.full(basis.nelems, RHO)))
        free = np.ones(place.size)
        free[(3 * still[:, None] + np.arange(3)).ravel()] = 0.0
        kept = diags_array(free)
        K = (kept @ K @ kept + diags_array((1 - free) * K.diagonal())).tocsc()
        M = (kept @ M @ kept).tocsc()
    with watch.stage("factors"):
        fronts = fronts_of(cells, place)
        factors = cholesky(fronts, K)
    load = push(place, pushed)
    with watch.stage("static"):
        moved = factors.solve(load)
        moved = moved + factors.solve(load - K @ moved)
    with watch.stage("modes"):
        inverse = LinearOperator(K.shape, matvec=factors.solve, dtype=float)
        start = np.random.default_rng(20).standard_normal(place.size)
        value, shape = eigsh(K, k=MODES + 1, M=M, sigma=0.0, OPinv=inverse, v0=start, tol=1e-13)
        order = np.argsort(value)
        value, shape = value[order], shape[:, order]
        left = shape - value * factors.solve(M @ shape)
        residual = float((np.abs(left).max(axis=0) / np.abs(shape).max(axis=0)).max())
        if residual > 1e-8:
            message = f"a mode has a residual of {residual:.0e}"
            raise ArithmeticError(message)
    with watch.stage("count of modes"):
        between = np.sqrt(value[-2] * value[-1])
        counted, _ = inertia(fronts, K - between * M, np.zeros((place.size, 0)))
        if counted != MODES:
            message = f"{counted} modes counted where {MODES} were found"
            raise ArithmeticError(message)
    return told(watch, value[:MODES], moved[3 * pushed + 1].mean())


def plain_skfem(path: Path) -> dict[str, Any]:
    """scikit-fem as its own examples use it, with scipy's solvers as they come."""
    from scipy.sparse.linalg import eigsh, splu
    from skfem import Basis, BilinearForm, ElementTetP2, ElementVector, MeshTet2, condense
    from skfem.helpers import dot
    from skfem.models.elasticity import lame_parameters, linear_elasticity

    watch = Watch()
    with watch.stage("mesh file"):
        place, cells, _, _ = loaded(path)
        mesh = MeshTet2(place, np.ascontiguousarray(cells.T))
    with watch.stage("assembly"):
        basis = Basis(mesh, ElementVector(ElementTetP2()), intorder=4)
        K = linear_elasticity(*lame_parameters(E, NU)).assemble(basis)
        M = BilinearForm(lambda u, v, w: RHO * dot(u, v)).assemble(basis)
        x = basis.doflocs[0]
        held = np.flatnonzero(x < 1e-9)
        along_y = np.zeros(basis.N, dtype=bool)
        for kind in (basis.nodal_dofs, basis.edge_dofs):
            along_y[kind[1]] = True
        end = np.flatnonzero((x > L - 1e-9) & along_y)
        load = np.zeros(basis.N)
        load[end] = PUSH / end.size
        small, right, _, kept = condense(K, load, D=held)
        light = M[kept][:, kept]
    with watch.stage("factors"):
        lu = splu(small.tocsc())
    with watch.stage("static"):
        moved = np.zeros(basis.N)
        moved[kept] = lu.solve(right)
    with watch.stage("modes"):
        value = eigsh(small, k=MODES, M=light, sigma=0.0, return_eigenvectors=False)
    return told(watch, np.sort(value), moved[end].mean())


def calculix(path: Path) -> dict[str, Any]:
    """CalculiX by its input file: a static step and one for the modes, whole runs."""
    watch = Watch()
    place, cells, still, pushed = loaded(path)
    with tempfile.TemporaryDirectory() as folder:
        with watch.stage("mesh file"):
            deck = _deck(place, cells, still, pushed)
        steps = {
            "static": "*STATIC\n*CLOAD\n"
            + f"PUSHED, 2, {PUSH / pushed.size:.12g}\n*NODE PRINT, NSET=PUSHED\nU\n",
            "modes": f"*FREQUENCY\n{MODES}\n",
        }
        text = {}
        for name, step in steps.items():
            (Path(folder) / f"{name}.inp").write_text(f"{deck}*STEP\n{step}*END STEP\n")
            with watch.stage(name):
                subprocess.run(
                    ["ccx", "-i", name], cwd=folder, check=True, stdout=subprocess.DEVNULL
                )
            text[name] = (Path(folder) / f"{name}.dat").read_text()
    rows = re.findall(r"^\s+\d+((?:\s+[-+.\dE]+){3})\s*$", text["static"], re.MULTILINE)
    moved = float(np.mean([float(row.split()[1]) for row in rows]))
    values = re.findall(r"^\s+\d+\s+([.\dE+-]+)(?:\s+[.\dE+-]+){3}\s*$", text["modes"], re.M)
    return told(watch, np.array([float(one) for one in values[:MODES]]), moved)


def _deck(place: Any, cells: Any, still: Any, pushed: Any) -> str:
    nodes = "".join(
        f"{k}, {x:.12g}, {y:.12g}, {z:.12g}\n" for k, (x, y, z) in enumerate(place.T, 1)
    )
    rows = "".join(", ".join(map(str, [k, *cell])) + "\n" for k, cell in enumerate(cells + 1, 1))
    still_rows, pushed_rows = ("\n".join(map(str, s + 1)) for s in (still, pushed))
    return (
        f"*NODE, NSET=ALL\n{nodes}*ELEMENT, TYPE=C3D10, ELSET=BAR\n{rows}"
        f"*NSET, NSET=STILL\n{still_rows}\n*NSET, NSET=PUSHED\n{pushed_rows}\n"
        f"*MATERIAL, NAME=STEEL\n*ELASTIC\n{E}, {NU}\n*DENSITY\n{RHO}\n"
        "*SOLID SECTION, ELSET=BAR, MATERIAL=STEEL\n*BOUNDARY\nSTILL, 1, 3\n"
    )


def with_sfepy(path: Path) -> dict[str, Any]:
    """Fields and terms of sfepy, with scipy's solvers."""
    from scipy.sparse.linalg import eigsh, splu
    from sfepy.base.base import output
    from sfepy.discrete import FieldVariable, Material
    from sfepy.discrete.fem import FEDomain, Field, Mesh
    from sfepy.mechanics.matcoefs import stiffness_from_youngpoisson

    output.set_output(quiet=True)
    watch = Watch()
    with watch.stage("mesh file"):
        place, cells, _, _ = loaded(path)
        corners = int(cells[:, :4].max()) + 1
        point = np.ascontiguousarray(place[:, :corners].T)
        connected = cells[:, :4].astype(np.int32)
        mesh = Mesh.from_data(
            "bar", point, None, [connected], [np.zeros(len(cells), dtype=np.int32)], ["3_4"]
        )
    with watch.stage("assembly"):
        domain = FEDomain("bar", mesh)
        omega = domain.create_region("Omega", "all")
        field = Field.from_args("u", np.float64, "vector", omega, approx_order=2)
        u = FieldVariable("u", "unknown", field)
        v = FieldVariable("v", "test", field, primary_var_name="u")
        steel = Material("m", D=stiffness_from_youngpoisson(3, E, NU), rho=RHO)
        n = field.n_nod * 3
        K, M = (_sfepy_matrix(form, omega, steel, v, u) for form in _FORMS)
        node = field.get_coor()
        held = np.flatnonzero(node[:, 0] < 1e-9)
        end = np.flatnonzero(node[:, 0] > L - 1e-9)
        free = np.ones(n, dtype=bool)
        free[(3 * held[:, None] + np.arange(3)).ravel()] = False
        kept = np.flatnonzero(free)
        K, M = (matrix[kept][:, kept].tocsc() for matrix in (K, M))
    with watch.stage("factors"):
        lu = splu(K)
    with watch.stage("static"):
        load, moved = np.zeros(n), np.zeros(n)
        load[3 * end + 1] = PUSH / end.size
        moved[kept] = lu.solve(load[kept])
    with watch.stage("modes"):
        value = eigsh(K, k=MODES, M=M, sigma=0.0, return_eigenvectors=False)
    return told(watch, np.sort(value), moved[3 * end + 1].mean())


_FORMS = ("dw_lin_elastic(m.D, v, u)", "dw_dot(m.rho, v, u)")


def _sfepy_matrix(form: str, omega: Any, steel: Any, v: Any, u: Any) -> Any:
    from sfepy.discrete import Equation, Equations, Integral, Problem
    from sfepy.terms import Term

    term = Term.new(form, Integral("i", order=4), omega, m=steel, v=v, u=u)
    equations = Equations([Equation("one", term)])
    problem = Problem("one", equations=equations)
    problem.time_update()
    problem.update_materials()
    return equations.evaluate(mode="weak", dw_mode="matrix", asm_obj=problem.mtx_a).tocsr()


def told(watch: Watch, squared: Any, moved: float) -> dict[str, Any]:
    """What a package found: Hz, m, and seconds by stage."""
    hertz = np.sqrt(np.asarray(squared, dtype=float)) / (2 * np.pi)
    return {"hertz": hertz.tolist(), "moved": float(moved), "seconds": watch.seconds}


SOLIDS: dict[str, tuple[Callable[[Path], dict[str, Any]], Callable[[], bool]]] = {
    "barwright": (ours, lambda: True),
    "CalculiX": (calculix, lambda: shutil.which("ccx") is not None),
    "scikit-fem, scipy": (plain_skfem, lambda: True),
    "sfepy, scipy": (with_sfepy, lambda: importlib.util.find_spec("sfepy") is not None),
}


# --- beams -------------------------------------------------------------------------------------

PIECES = 24


def our_beam() -> dict[str, Any]:
    """Beam of this project, built, factorised and solved."""
    from math import inf

    from barwright.analysis import model, modes, section
    from barwright.analysis.timoshenko import Mount, beam, segment

    whole = segment(0.0, L, section.round_section(D, NU), E=E, G=E / (2 * (1 + NU)), density=RHO)
    names = ("vertical", "horizontal", "tilt", "axial", "turning")
    held = Mount(name="end", start=0.0, end=0.0, **dict.fromkeys(names, inf))
    watch = Watch()
    with watch.stage("assembly"):
        made = beam([whole], [held], edge=L, longest=L / 8)
    with watch.stage("factors"):
        factored = model.factorised(made)
    with watch.stage("static"):
        moved = PUSH * float(model.Held(factored).edge_compliance[0, 0])
    with watch.stage("modes"):
        found = modes.undamped_modes(factored, count=MODES)
    return told(watch, (2 * np.pi * found.frequency) ** 2, moved)


def _numbers() -> tuple[float, float, float, float]:
    """Area, second moment, shear area by Cowper's coefficient, and shear modulus."""
    area, second = np.pi * D**2 / 4, np.pi * D**4 / 64
    return area, second, 6 * (1 + NU) / (7 + 6 * NU) * area, E / (2 * (1 + NU))


def opensees_beam() -> dict[str, Any]:
    """Timoshenko elements of OpenSeesPy with a consistent mass."""
    import openseespy.opensees as ops

    area, second, shear, G = _numbers()
    watch = Watch()
    with watch.stage("assembly"):
        ops.wipe()
        ops.model("basic", "-ndm", 3, "-ndf", 6)
        for k in range(PIECES + 1):
            ops.node(k + 1, L * k / PIECES, 0.0, 0.0)
        ops.fix(1, *[1] * 6)
        ops.geomTransf("Linear", 1, 0.0, 0.0, 1.0)
        for k in range(PIECES):
            ops.element(
                *("ElasticTimoshenkoBeam", k + 1, k + 1, k + 2, E, G, area, 2 * second),
                *(second, second, shear, shear, 1, "-mass", RHO * area, "-cMass"),
            )
        ops.timeSeries("Linear", 1)
        ops.pattern("Plain", 1, 1)
        ops.load(PIECES + 1, 0.0, PUSH, 0.0, 0.0, 0.0, 0.0)
        ops.system("BandSPD")
        ops.numberer("RCM")
        ops.constraints("Plain")
        ops.integrator("LoadControl", 1.0)
        ops.algorithm("Linear")
        ops.analysis("Static")
    with watch.stage("static"):
        ops.analyze(1)
        moved = ops.nodeDisp(PIECES + 1, 2)
    with watch.stage("modes"):
        value = ops.eigen("-genBandArpack", MODES)
    return told(watch, np.array(value), moved)


def pynite_beam() -> dict[str, Any]:
    """Frame of PyNite; it has no shear in its members, and its modes are not asked for."""
    from Pynite import FEModel3D

    area, second, _, G = _numbers()
    watch = Watch()
    with watch.stage("assembly"):
        frame = FEModel3D()
        frame.add_material("steel", E, G, NU, RHO)
        frame.add_section("round", area, second, second, 2 * second)
        for k in range(PIECES + 1):
            frame.add_node(f"N{k}", L * k / PIECES, 0, 0)
        for k in range(PIECES):
            frame.add_member(f"M{k}", f"N{k}", f"N{k + 1}", "steel", "round")
        frame.def_support("N0", *[True] * 6)
        frame.add_node_load(f"N{PIECES}", "FY", PUSH)
    with watch.stage("static"):
        frame.analyze_linear()
        moved = frame.nodes[f"N{PIECES}"].DY["Combo 1"]
    return told(watch, np.array([]), moved)


BEAMS: dict[str, tuple[Callable[[], dict[str, Any]], Callable[[], bool]]] = {
    "barwright": (our_beam, lambda: True),
    "OpenSeesPy": (opensees_beam, lambda: importlib.util.find_spec("openseespy") is not None),
    "PyNite": (pynite_beam, lambda: importlib.util.find_spec("Pynite") is not None),
}


# --- running and printing ----------------------------------------------------------------------


def worker(name: str, mesh: Path | None) -> None:
    """Do one package's work, and print what it found as JSON."""
    if mesh:
        found = SOLIDS[name][0](mesh)
    else:
        BEAMS[name][0]()  # the first call pays for what is loaded late
        found = BEAMS[name][0]()
    found["megabytes"] = peak(children=name == "CalculiX")
    print("\n" + json.dumps(found))


def peak(*, children: bool) -> float:
    """Most memory held, MB; Linux counts what a process was forked from as its own."""
    if children or not Path("/proc/self/status").exists():
        who = resource.RUSAGE_CHILDREN if children else resource.RUSAGE_SELF
        return resource.getrusage(who).ru_maxrss / 1024
    status = Path("/proc/self/status").read_text()
    return int(re.findall(r"VmHWM:\s+(\d+)", status)[0]) / 1024


def run(name: str, mesh: Path | None, threads: int) -> dict[str, Any]:
    """One package in a process of its own."""
    variables = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
    surroundings = {**os.environ, **dict.fromkeys(variables, str(threads))}
    command = [sys.executable, __file__, "--worker", name, *([str(mesh)] if mesh else [])]
    before, started = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    done = subprocess.run(command, env=surroundings, capture_output=True, text=True, check=False)
    whole, after = time.perf_counter() - started, resource.getrusage(resource.RUSAGE_CHILDREN)
    lines = [line for line in done.stdout.splitlines() if line.startswith("{")]
    if not lines:
        return {"failed": (done.stderr.strip().splitlines() or ["no word"])[-1]}
    found: dict[str, Any] = json.loads(lines[-1])
    found["seconds"]["whole process"] = whole
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    found["seconds"]["processor"] = used
    return found


def median(runs: list[dict[str, Any]]) -> dict[str, Any]:
    """Median of each stage, and the most memory."""
    stages = runs[0]["seconds"]
    seconds = {one: statistics.median(r["seconds"][one] for r in runs) for one in stages}
    return runs[0] | {"seconds": seconds, "megabytes": max(r["megabytes"] for r in runs)}


def print_rows(title: str, rows: dict[str, dict[str, Any]], unit: float) -> None:
    """Print packages one below the other, with how far their answers lie from ours."""
    stages = [*STAGES[1:], "count of modes", "whole process", "processor"]
    print(f"\n{title}")
    print(f"{'':18}" + "".join(f"{stage:>15}" for stage in stages) + f"{'MB':>7}{'apart':>9}")
    base = rows["barwright"]
    for name, row in rows.items():
        if "failed" in row:
            print(f"{name:18}{row['failed']}")
            continue
        cells = [row["seconds"].get(stage) for stage in stages]
        text = "".join(f"{'-' if c is None else f'{c * unit:.3g}':>15}" for c in cells)
        print(f"{name:18}{text}{row['megabytes']:7.0f}{apart(row, base):9.0e}")


def apart(row: dict[str, Any], base: dict[str, Any]) -> float:
    """Largest difference of a move or a pitch from ours, relative."""
    count = len(row["hertz"])
    pitch = np.array(row["hertz"]) / np.array(base["hertz"][:count]) - 1
    return float(np.abs([row["moved"] / base["moved"] - 1, *pitch]).max())


def main() -> None:
    """Time every package that is here and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="one mesh, one run")
    parser.add_argument("--threads", type=int, default=1)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--worker", nargs="+", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.worker:
        name, *mesh = asked.worker
        worker(name, Path(mesh[0]) if mesh else None)
        return
    runs = 1 if asked.quick else asked.runs
    print(
        f"{date.today()}, {platform.machine()}, {os.cpu_count()} cores, {asked.threads} used; "
        f"Python {platform.python_version()}, {platform.system()}"
    )
    missing = [
        name for table in (SOLIDS, BEAMS) for name, (_, here) in table.items() if not here()
    ]
    if missing:
        print(f"not installed, left out: {', '.join(missing)}")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "mesh.npz"
        size = write_mesh(path, MESHES[USUAL])
        there = [name for name, (_, here) in SOLIDS.items() if here()]
        # In turn, so that whatever else the machine does falls on all alike.
        rounds = [{name: run(name, path, asked.threads) for name in there} for _ in range(runs)]
        rows = {name: _middle([one[name] for one in rounds]) for name in there}
        print_rows(f"solid, {size} unknowns, {MODES} modes, seconds", rows, 1.0)
        print_rows("beam, milliseconds", beam_rows(runs, asked.threads), 1e3)
        if not asked.quick:
            print_growth(path, asked.threads)


def _middle(found: list[dict[str, Any]]) -> dict[str, Any]:
    worked = [one for one in found if "failed" not in one]
    return median(worked) if worked else found[0]


def beam_rows(runs: int, threads: int) -> dict[str, dict[str, Any]]:
    """Every beam package that is here."""
    there = [name for name, (_, here) in BEAMS.items() if here()]
    return {name: _middle([run(name, None, threads) for _ in range(runs)]) for name in there}


def print_growth(path: Path, threads: int) -> None:
    """Time of this project over four meshes, and the power of the unknowns that fits it."""
    print(f"\n{'unknowns':>10}{'seconds':>9}{'MB':>7}   this project, whole process")
    sizes, seconds = [], []
    for element in MESHES:
        sizes.append(write_mesh(path, element))
        found = run("barwright", path, threads)
        seconds.append(found["seconds"]["whole process"])
        print(f"{sizes[-1]:10d}{seconds[-1]:9.2f}{found['megabytes']:7.0f}")
    power, _ = np.polyfit(np.log(sizes[1:]), np.log(seconds[1:]), 1)
    print(f"seconds grow as the unknowns to the power {power:.2f} (last three)")


if __name__ == "__main__":
    main()
