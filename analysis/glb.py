"""A scene of bodies as a GLB file, written with numpy alone: no graphics library is asked.

The format is the binary form of glTF 2.0 (ISO/IEC 12113; from memory): one JSON chunk that says
what stands where in one chunk of numbers. Metres, y upward. A body that moves carries its
movements as morph targets, and each movement is an animation of their weights, so that any
viewer can play it.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from importlib.metadata import version
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

SET_UP, BENT = "set_up.glb", "bent_bar.glb"
"""Scenes that a run leaves."""
CREASE = np.radians(35.0)
"""Two faces that meet at more than this have an edge between them."""
PERIOD, FRAMES = 2.0, 24
"""Seconds and steps that a movement is played in, there and back."""
_FLOAT, _UNSIGNED = 5126, 5125
_VERTICES, _ELEMENTS = 34962, 34963
_LINES, _TRIANGLES = 1, 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """Something that is drawn.

    Attributes
    ----------
    points : (n, 3), m
    joined : (m, 3) points of its faces, or (m, 2) of its lines
    colour : ``#rrggbb``
    opacity : 1 hides what is behind it
    moves : (n, 3) each, m, how far each point goes in each movement of the scene; none if it
        stands still
    normals : (n, 3) of length 1, for a body of faces that is to be lit
    """

    name: str
    points: Floats
    joined: Whole
    colour: str
    opacity: float = 1.0
    moves: tuple[Floats, ...] = ()
    normals: Floats | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """A movement of the scene: its words, and whether it swings both ways or only one."""

    name: str
    swings: bool


# --- edges and shading -----------------------------------------------------------------------


def _face_normals(body: Body) -> Floats:
    """Across each face, its length twice the area, (m, 3)."""
    a, b, c = (body.points[body.joined[:, corner]] for corner in range(3))
    return np.cross(b - a, c - a)


def _unit(vectors: Floats) -> Floats:
    length = np.linalg.norm(vectors, axis=-1, keepdims=True)
    found: Floats = vectors / np.maximum(length, 1e-300)
    return found


def edges(body: Body, colour: str) -> Body:
    """Lines of a closed body along which its faces meet at more than `CREASE`."""
    normal = _unit(_face_normals(body))
    pair = np.sort(body.joined[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    face = np.repeat(np.arange(len(body.joined)), 3)
    order = np.lexsort((pair[:, 1], pair[:, 0]))
    pair, face = pair[order], face[order]
    same = np.flatnonzero(np.all(pair[1:] == pair[:-1], axis=1))
    across = np.sum(normal[face[same]] * normal[face[same + 1]], axis=1)
    kept = pair[same][across < np.cos(CREASE)]
    used, joined = np.unique(kept, return_inverse=True)
    return Body(
        name=f"{body.name}, edges",
        points=body.points[used],
        joined=joined.reshape(-1, 2),
        colour=colour,
        moves=tuple(move[used] for move in body.moves),
    )


def shaded(body: Body) -> Body:
    """The body with normals: smooth over its round faces, apart where they meet at an edge."""
    across = _face_normals(body)
    unit = _unit(across)
    corner = body.joined.ravel()
    face = np.repeat(np.arange(len(body.joined)), 3)
    order = np.argsort(corner, kind="stable")
    start = np.searchsorted(corner[order], np.arange(len(body.points) + 1))
    normal = np.empty((corner.size, 3))
    for first, last in pairwise(start):
        about = order[first:last]
        near = unit[face[about]] @ unit[face[about]].T > np.cos(CREASE)
        normal[about] = near @ across[face[about]]
    normal = _unit(normal)
    key = np.column_stack([corner, np.round(normal * 512)])
    _, kept, joined = np.unique(key, axis=0, return_index=True, return_inverse=True)
    return replace(
        body,
        points=body.points[corner[kept]],
        joined=joined.reshape(-1, 3),
        normals=normal[kept],
        moves=tuple(move[corner[kept]] for move in body.moves),
    )


# --- the file --------------------------------------------------------------------------------


class _Numbers:
    """The chunk of numbers as it grows, with what the JSON says of each piece."""

    def __init__(self) -> None:
        self.data = bytearray()
        self.views: list[dict[str, Any]] = []
        self.pieces: list[dict[str, Any]] = []

    def add(self, values: NDArray[Any], kind: str, target: int | None = None) -> int:
        """Put an array at the end; its number among the accessors."""
        whole = np.issubdtype(values.dtype, np.integer)
        stored = np.ascontiguousarray(values, dtype="<u4" if whole else "<f4")
        view: dict[str, Any] = {"buffer": 0, "byteOffset": len(self.data)}
        view["byteLength"] = stored.nbytes
        if target is not None:
            view["target"] = target
        flat = stored.reshape(len(stored), -1)
        self.views.append(view)
        self.pieces.append(
            {
                "bufferView": len(self.views) - 1,
                "componentType": _UNSIGNED if whole else _FLOAT,
                "count": len(stored),
                "type": kind,
                "min": flat.min(axis=0).tolist(),
                "max": flat.max(axis=0).tolist(),
            }
        )
        self.data += stored.tobytes()
        return len(self.pieces) - 1


def glb(bodies: Sequence[Body], movements: Sequence[Movement] = ()) -> bytes:
    """A scene as the bytes of a GLB file; the same scene gives the same bytes."""
    numbers = _Numbers()
    drawn = [body for body in bodies if len(body.joined)]
    meshes = [_mesh(numbers, body, place, movements) for place, body in enumerate(drawn)]
    moving = [place for place, body in enumerate(drawn) if body.moves]
    document: dict[str, Any] = {
        "asset": {"version": "2.0", "generator": f"barwright {version('barwright')}"},
        "scene": 0,
        "scenes": [{"nodes": list(range(len(drawn)))}],
        "nodes": [{"name": body.name, "mesh": place} for place, body in enumerate(drawn)],
        "meshes": meshes,
        "materials": [_material(body) for body in drawn],
    }
    if moving and movements:
        document["animations"] = list(_animations(numbers, moving, movements))
    document |= {
        "accessors": numbers.pieces,
        "bufferViews": numbers.views,
        "buffers": [{"byteLength": len(numbers.data)}],
    }
    return _packed(document, bytes(numbers.data))


def _mesh(
    numbers: _Numbers, body: Body, place: int, movements: Sequence[Movement]
) -> dict[str, Any]:
    attributes = {"POSITION": numbers.add(body.points, "VEC3", _VERTICES)}
    if body.normals is not None:
        attributes["NORMAL"] = numbers.add(body.normals, "VEC3", _VERTICES)
    primitive: dict[str, Any] = {
        "attributes": attributes,
        "indices": numbers.add(body.joined.ravel(), "SCALAR", _ELEMENTS),
        "material": place,
        "mode": _TRIANGLES if body.joined.shape[1] == 3 else _LINES,
    }
    mesh: dict[str, Any] = {"name": body.name, "primitives": [primitive]}
    if body.moves:
        primitive["targets"] = [
            {"POSITION": numbers.add(move, "VEC3", _VERTICES)} for move in body.moves
        ]
        mesh["weights"] = [0.0] * len(body.moves)
        mesh["extras"] = {"targetNames": [movement.name for movement in movements]}
    return mesh


def _material(body: Body) -> dict[str, Any]:
    """A dull surface; lines shine by themselves, so that they keep their colour anywhere."""
    rgb = [_linear(int(body.colour[at : at + 2], 16) / 255) for at in (1, 3, 5)]
    found: dict[str, Any] = {
        "name": body.name,
        "pbrMetallicRoughness": {
            "baseColorFactor": [*rgb, body.opacity],
            "metallicFactor": 0.0,
            "roughnessFactor": 0.8,
        },
    }
    if body.opacity < 1:
        found |= {"alphaMode": "BLEND", "doubleSided": True}
    return found


def _linear(shade: float) -> float:
    """A share of sRGB as the share of light that glTF asks for (IEC 61966-2-1; from memory)."""
    return round(shade / 12.92 if shade <= 0.04045 else ((shade + 0.055) / 1.055) ** 2.4, 6)


def _animations(
    numbers: _Numbers, moving: Sequence[int], movements: Sequence[Movement]
) -> Iterator[dict[str, Any]]:
    """One animation for each movement, in which the others rest."""
    turn = np.linspace(0.0, 1.0, FRAMES + 1)
    time = numbers.add(PERIOD * turn, "SCALAR")
    swing, push = np.sin(2 * np.pi * turn), np.sin(np.pi * turn) ** 2
    for place, movement in enumerate(movements):
        weights = np.zeros((turn.size, len(movements)))
        weights[:, place] = swing if movement.swings else push
        played = numbers.add(weights.ravel(), "SCALAR")
        yield {
            "name": movement.name,
            "samplers": [{"input": time, "output": played, "interpolation": "LINEAR"}],
            "channels": [
                {"sampler": 0, "target": {"node": node, "path": "weights"}} for node in moving
            ],
        }


def _packed(document: dict[str, Any], numbers: bytes) -> bytes:
    """Header, JSON padded with blanks, numbers padded with noughts, each to four bytes."""
    text = json.dumps(document, separators=(",", ":"), allow_nan=False).encode("utf-8")
    text += b" " * (-len(text) % 4)
    numbers += b"\0" * (-len(numbers) % 4)
    chunks = struct.pack("<I4s", len(text), b"JSON") + text
    chunks += struct.pack("<I4s", len(numbers), b"BIN\0") + numbers
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks
