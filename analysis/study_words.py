"""What is in doubt, as a machinist says it, and how a shop finds it out.

How to measure is common practice; `barwright fit` turns push and tap readings into values.
"""

from __future__ import annotations

from .case import Case
from .doubt import FACTOR, Doubt
from .keys import Key

ANSWERS = {
    "size_error": "bore off size by",
    "deflection": "edge springs off the cut by",
    "first_mode": "first mode",
    "gain_margin": "gain margin against chatter",
    "undamped_margin": "the same, nothing rubbing the waves down",
    "depth_limit": "depth limit",
    "separation": "nearest shake off a mode by",
}
"""Answers of a study in shop words."""
KINDS = {
    "size_error": "length",
    "deflection": "length",
    "first_mode": "frequency",
    "gain_margin": "ratio",
    "undamped_margin": "ratio",
    "depth_limit": "length",
    "separation": "share",
}
_VALUES = {
    "radial_stiffness": "radial stiffness",
    "vertical_stiffness": "stiffness up and down",
    "horizontal_stiffness": "stiffness sideways",
    "axial_stiffness": "stiffness endways",
    "tilt_stiffness": "stiffness against tilting",
    "turning_stiffness": "stiffness against turning",
    "damping": "damping",
    "damping_ratio": "damping",
    "dog_mass": "weight of the dog",
    "dog_position": "place of the dog",
    "mass": "weight that moves with it",
    "elastic_modulus": "Young's modulus of the steel",
    "density": "density of the steel",
}
_FORCES = {
    "normal_force": "push of the edge (normal force)",
    "specific_force": "drag of the edge (cutting force)",
    "power_constant": "power to cut",
    "process_damping": "rubbing of the edge's flank",
}
_PUSH = "push test: spring scale or weights on the bar close to this support, indicator beside it"
_TAP = (
    "tap test: tap the bar at the bit with a wooden mallet, record it, and time how it rings down"
)
_LEARNT = {
    "radial_stiffness": _PUSH,
    "vertical_stiffness": f"{_PUSH}, up and down",
    "horizontal_stiffness": f"{_PUSH}, sideways",
    "axial_stiffness": "push the bar endways, indicator on its end face",
    "tilt_stiffness": "push test with the tail backed off: push near the jaws and far out, "
    "indicator at both places",
    "turning_stiffness": "pull on an arm clamped to the bar, indicator on the arm, spindle locked",
    "damping": _TAP,
    "damping_ratio": _TAP,
    "dog_mass": "weigh the dog",
    "mass": "weigh or reckon carriage, slide, packing and casting",
    "elastic_modulus": "push test on the bar alone, on two blocks",
    "density": "weigh the bar and measure it",
    "edge_wear": "stone the edge fresh just before the pass",
    "normal_force": "take one pass and measure the bore: what it is off size by, over the give of "
    "the bar (push test), is the push of the edge",
    "specific_force": "take one pass and read the spindle motor's power with and without the cut",
    "power_constant": "take one pass and read the spindle motor's power with and without the cut",
    "process_damping": "take the cut at rising speeds, listen where it starts to sing; slow down "
    "again and it falls quiet",
}
_FACTORS = {
    "rake": ("what the rake takes off the force", "take one pass and measure the bore"),
    "low speed": (
        "what slow high-speed steel adds to the force",
        "take one pass and measure the bore",
    ),
}


def said(case: Case, key: Key) -> str:
    """A value in doubt, in shop words."""
    if key[0] == FACTOR:
        return _FACTORS.get(str(key[1]), (f"force factor, {key[1]}", ""))[0]
    last = str(key[-1])
    if key == ("cut", "edge_wear"):
        return "wear of the edge"
    if key[:2] == ("work", "material"):
        return f"{_FORCES.get(last, _plain(last))}, {case.work.material.name}"
    return f"{_owner(case, key)}, {_VALUES.get(last, _plain(last))}"


def _plain(name: str) -> str:
    return name.replace("_", " ")


def _owner(case: Case, key: Key) -> str:
    """Whose value it is."""
    if key[:2] == ("supports", "others"):
        return case.supports.others[int(key[2])].kind
    if key[0] == "supports":
        return f"{key[1]} support ({getattr(case.supports, str(key[1])).kind})"
    owners = {"work": "work side", "cross_hole": "cross-hole"}
    return owners.get(str(key[0]), str(key[0]))


def learnt_by(case: Case, doubt: Doubt) -> str:
    """How a shop finds a value out."""
    key = doubt.key
    if key[0] == FACTOR:
        return _FACTORS.get(str(key[1]), ("", "take one pass and measure the bore"))[1]
    if key[0] == "work" and str(key[-1]).endswith("_stiffness"):
        return (
            "push test on the casting: spring scale against it, indicator from the bed or the "
            f"headstock{', endways' if key[-1] == 'axial_stiffness' else ''}"
        )
    if key == ("work", "damping_ratio"):
        return "tap test on the casting: tap it, record it, and time how it rings down"
    if key[:2] == ("cut", "force"):
        return "take one pass and measure the bore"
    return _LEARNT.get(str(key[-1]), "measure it with rule or calliper")
