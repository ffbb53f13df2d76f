"""What a report says of a finished run: the answer first, then what holds it up.

Nothing is solved here: every number comes from the results folder, and from the folders that
`compare` and `study` left beside it for the same case.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from .bar_moves import MOST_MODES, Move, movements
from .cautions import CAUTIONS
from .finished import Finished, plane_words, start_radius
from .glb import BENT, SET_UP
from .lettering import clean
from .move_view import move_view
from .report_beside import beside_run, comparison, study
from .report_blocks import (
    Drawn,
    Grid,
    Mark,
    Part,
    Picture,
    Points,
    Report,
    Said,
    Scene,
    Section,
    Under,
)
from .report_words import band_words, picture
from .sheet_content import (
    answer,
    finish_size,
    making,
    micrometer,
    named,
    ranged,
    rpm,
    times,
    valued,
    verdict,
)
from .sheet_drawing import end_view, side_view
from .units import Own, roughly, roughness
from .wording import pitch_words, set_by_both

MOST_CAUSES, MOST_TRIES = 3, 4


def report_of(finished: Finished, beside: Path) -> Report:
    """Everything that a report says.

    Parameters
    ----------
    beside
        The run's own folder as it will be called: `compare` and `study` are looked for there
        with their names added.
    """
    found, case = finished.summary, finished.case
    sections = (
        Section("limits", "Limits and margins", tuple(_limits(finished))),
        Section("set-up", "The set-up", tuple(_set_up(finished))),
        Section("bend", "How the bar bends", tuple(_bend(finished))),
        Section("chatter", "Chatter", tuple(_chatter(finished))),
        Section("speeds", "Speeds of the lathe", tuple(_speeds(finished, beside))),
        Section("passes", "Passes and size", tuple(_passes(finished))),
        Section("history", "The bore cut turn by turn", tuple(_history(finished))),
        Section("strength", "Strength at the cross-hole", tuple(_strength(finished))),
        Section("holding", "What holds bit and bar", tuple(_holding(finished))),
        Section("behaviour", "Balance and run-out", tuple(_behaviour(finished))),
        Section("comparison", "Other set-ups", tuple(comparison(finished, beside))),
        Section("doubt", "What is in doubt", tuple(study(finished, beside))),
        Section("checks", "Check before cutting", tuple(_checks(finished))),
        Section("trouble", "If it goes wrong", tuple(_trouble(finished))),
        Section("inputs", "What went in, and where it came from", tuple(_inputs(finished))),
        Section("method", "Method, sources and checks", tuple(_method(finished))),
        Section("cautions", "Before the spindle turns", (Points(CAUTIONS),)),
    )
    mark: Mark = "miss" if not found["within_limits"] else "caution"
    if answer(finished) == "WITHIN LIMITS":
        mark = "ok"
    return Report(
        title=clean(case.title, 160),
        facts=tuple(_facts(finished)),
        answer=answer(finished),
        mark=mark,
        lines=(*verdict(finished).lines, *_more_lines(finished)),
        sections=tuple(section for section in sections if section.parts),
        foot=(
            f"barwright {found['barwright']}, {found['model']['kind']} model",
            f"case file {clean(found['case']['file'], 80)}",
            f"SHA-256 of the case file {found['case']['sha256']}",
        ),
    )


# --- head ------------------------------------------------------------------------------------


def _facts(finished: Finished) -> Iterator[tuple[str, str]]:
    case, job = finished.case, finished.case.job
    for name, text in (("Part", job.part), ("Drawing", job.drawing), ("Note", job.note)):
        if text:
            yield (name, clean(text, 200))
    yield ("Bore wanted", finish_size(finished))
    yield ("Bore now", finished.say(2 * start_radius(case)))
    if case.work.length is not None:
        yield ("Length of the bore", finished.say(case.work.length))
    yield ("Work", clean(case.work.material.name, 80))
    if "name" in case.lathe.model_fields_set:
        yield ("Lathe", clean(case.lathe.name, 80))


def _more_lines(finished: Finished) -> Iterator[str]:
    """Pitch, speed, and what to do about doubt."""
    speed = finished.summary["speed"]
    first = speed["first_mode_Hz"]
    low, likely, high = (f"{first[end]:.0f}" for end in ("low", "likely", "high"))
    pitch = f"{likely} Hz" if low == high else f"{low} to {high} Hz, likely {likely} Hz"
    yield (
        f"First bending mode {pitch}: {speed['waves_per_turn']:.0f} waves per turn at "
        f"{rpm(speed['spindle_rpm'])} rpm. Speed: {speed['verdict']}."
    )
    if finished.summary["within_limits"] and answer(finished) != "WITHIN LIMITS":
        yield (
            "What was guessed decides: measure the supports with a push test and a tap test "
            "(barwright fit) before trusting the likely numbers."
        )


# --- limits ----------------------------------------------------------------------------------


def _limits(finished: Finished) -> Iterator[Part]:
    findings = finished.summary["findings"]
    met = sum(bool(one["ok"]) for one in findings)
    yield Said(f"{met} of {len(findings)} limits are met. A margin of 1 is just met.")
    yield Grid(
        heads=("limit on", "found", "limit", "margin", "why"),
        rows=tuple(
            (
                clean(one["what"]),
                _found(finished, one["value"], one["kind"]),
                _found(finished, one["limit"], one["kind"]),
                times(one["margin"]),
                clean(one["why"]),
            )
            for one in findings
        ),
        marks=tuple("ok" if one["ok"] else "miss" for one in findings),
        numbers=(3,),
    )


def _found(finished: Finished, value: float, kind: str) -> str:
    """A value or a limit; a margin with the two digits that it is worth."""
    return times(value) if kind == "ratio" else finished.say(value, kind)


# --- set-up ----------------------------------------------------------------------------------


def _set_up(finished: Finished) -> Iterator[Part]:
    side = side_view(finished, 190.0, 70.0)
    yield Drawn(side)
    yield Drawn(end_view(finished, 110.0, 62.0))
    if (finished.folder / SET_UP).exists():
        yield Scene(
            path=finished.folder / SET_UP,
            words=side.words,
            caption=(
                "The set-up to scale. Bar, holes, bit, bore and stations are the case's own; "
                "chuck, centres and the outside of the work are drawn for show."
            ),
        )
    budget = finished.plan.get("budget", ())
    if budget:
        yield Under("Where the length of the bar goes")
        yield Grid(
            heads=("part", "length"),
            rows=tuple((clean(one["part"]), finished.stock(one["length_m"])) for one in budget),
            numbers=(1,),
        )
    yield Under("To make")
    yield Grid(
        heads=("part", "as it is to be made"),
        rows=tuple((fact.name, fact.value) for fact in making(finished).facts),
    )


# --- bending ---------------------------------------------------------------------------------


def _bend(finished: Finished) -> Iterator[Part]:
    static = finished.summary["static"]
    moved = movements(finished)
    moves = [move.movement.name for move in moved]
    if (finished.folder / BENT).exists() and moves:
        yield Scene(
            path=finished.folder / BENT,
            words=moves[0],
            caption=(
                "Shade: how far it moves, dark the farthest. Lines scribed along the bar show it "
                "twist; thin grey lines, the bar at rest; wedges, where it is held."
            ),
            movements=tuple(moves),
            stills=tuple(_stills(finished, moved)),
        )
    yield Grid(
        heads=("at the edge", "value"),
        rows=(
            ("springs off the cut along the bit", _way(finished, static["deflection_radial_m"])),
            ("springs back across the bit", _way(finished, static["deflection_tangential_m"])),
            ("bore error from spring, on the diameter", _size(finished)),
            ("out of round", finished.say(static["ovality_m"])),
            ("stiffness along the bit", _stiff(finished, static["stiffness_radial_N_per_m"])),
            ("stiffness across it", _stiff(finished, static["stiffness_tangential_N_per_m"])),
            (
                "bar on its supports alone, along the bit",
                _stiff(finished, static["bar_stiffness_radial_N_per_m"]),
            ),
            ("sag at the bit under its own weight", finished.say(static["sag_m"])),
        ),
        numbers=(1,),
    )
    give = sorted(static["give"], key=lambda one: -one["share"])
    words = "; ".join(f"{one['part']} {one['share']:.0%}" for one in give)
    yield from picture(finished, "give.png", f"Where the give is along the bit: {words}")
    yield from picture(
        finished,
        "deflection.png",
        f"Movement along the bar: {_way(finished, static['deflection_radial_m'])} along the bit "
        f"and {_way(finished, static['deflection_tangential_m'])} across it at the edge",
    )
    first = finished.summary["speed"]["first_mode_Hz"]["likely"]
    yield from picture(
        finished,
        "modes_and_speed.png",
        f"Modes against what shakes the bar; the first bending mode is at {pitch_words(first)}",
    )


def _stills(finished: Finished, moves: Sequence[Move]) -> Iterator[Picture | Drawn]:
    """Each movement as it was drawn with the run, or in line where no picture was."""
    names = ("deflected.png", *(f"mode_{one.number}.png" for one in finished.modes[:MOST_MODES]))
    for name, move in zip(names, moves, strict=False):
        drawn = tuple(picture(finished, name, move.movement.name))
        yield from drawn or (Drawn(move_view(finished.case, move, 190.0)),)


def _way(finished: Finished, length: float) -> str:
    return finished.movement(abs(length) * 1e6)


def _stiff(finished: Finished, value: float) -> str:
    return finished.say(value, "stiffness")


def _size(finished: Finished) -> str:
    static = finished.summary["static"]
    way = "small" if static["bore_diameter_error_m"] < 0 else "large"
    return f"{ranged(static['bore_diameter_error_size_m'], 'length', finished.system)}, {way}"


# --- chatter ---------------------------------------------------------------------------------


def _chatter(finished: Finished) -> Iterator[Part]:
    found = finished.summary["chatter"]
    margin, depth = found["gain_margin"], found["depth_limit_m"]
    ends = ("low", "likely", "high")
    yield Said(
        "The gain margin is how many times the loop of cut and bar could be stronger before it "
        "sings: 1 just sings. An untested chatter depth is a factor-of-four number; the margin, "
        "and the ratio of two set-ups' margins, are far better."
    )
    sings = found["frequency_Hz"]
    yield Grid(
        heads=("chatter", "low", "likely", "high"),
        rows=(
            ("gain margin", *(times(margin[end]) for end in ends)),
            ("were the bar not turning", "", times(found["gain_margin_still_bar"]), ""),
            (
                "with a fresh edge, that does not rub",
                "",
                times(found["gain_margin_without_process_damping"]),
                "",
            ),
            ("depth it may go to", *(_limit(finished, depth[end], "any depth") for end in ends)),
            (
                f"largest nose radius ({found['nose_limit_holds_for']})",
                "",
                _limit(finished, found["nose_radius_limit_m"], "no limit"),
                "",
            ),
            (
                "feed at which the bar whirls",
                "",
                _limit(finished, found["whirl_feed_limit_m"], "at no feed", "feed"),
                "",
            ),
            (
                "it would sing at",
                "",
                "no pitch"
                if isinstance(sings, str)
                else f"{pitch_words(sings)}, {found['marks_per_turn']:.0f} marks round the bore",
                "",
            ),
        ),
        numbers=(1, 2, 3),
    )
    sung = found.get("sung_by", "none")
    if sung != "none":
        yield Said(f"{sung['words']}.", "What sings there:")
    likely = times(margin["likely"])
    for name, words in (
        ("loop.png", f"The loop of cut and bar over pitch; gain margin likely {likely}"),
        ("lobes.png", f"Chatter limit over spindle speed; gain margin likely {likely}"),
        ("nose_radius.png", f"Nose radius against chatter and finish; gain margin {likely} now"),
    ):
        yield from picture(finished, name, words)


def _limit(finished: Finished, value: float | str, endless: str, kind: str = "length") -> str:
    if isinstance(value, str):
        return endless if value == "none" else value
    return roughly(value, kind, finished.system)


# --- speeds ----------------------------------------------------------------------------------


def _speeds(finished: Finished, beside: Path) -> Iterator[Part]:
    found = finished.summary.get("speeds")
    if not found:
        return
    pick = found.get("pick")
    if pick:
        yield Said(f"{rpm(pick['spindle_rpm'])} rpm: {pick['why']}.", "Take")
    rows = []
    for one in found["speeds"]:
        turns = f"{rpm(one['spindle_rpm'])} rpm" + (", this cut" if one["this_cut"] else "")
        reasons = "; ".join(clean(reason["text"]) for reason in one["reasons"])
        surface = finished.say(one["surface_speed_m_per_s"], "surface speed")
        rows.append((turns, surface, times(one["gain_margin"]["likely"]), reasons))
    yield Grid(
        heads=("speed", "at the edge", "gain margin, likely", "why"),
        rows=tuple(rows),
        marks=tuple(one["verdict"] for one in found["speeds"]),
        numbers=(2,),
    )
    there = beside_run(finished, beside, "speeds")
    if there is not None and (there[0] / "speeds.png").exists():
        said = "; ".join(
            f"{rpm(one['spindle_rpm'])} rpm {one['verdict']}" for one in found["speeds"]
        )
        yield Picture(path=there[0] / "speeds.png", words=f"Strip of the lathe's speeds: {said}")
    for note in found["notes"]:
        yield Said(clean(note[:1].upper() + note[1:], 600) + ".")


# --- passes ----------------------------------------------------------------------------------


def _passes(finished: Finished) -> Iterator[Part]:
    planned = finished.summary.get("passes")
    if not planned or not planned["passes"]:
        return
    own = finished.system
    unit = "mm" if own == "mm" else "in"
    yield Grid(
        heads=(
            "pass",
            f"bore before, {unit}",
            "bit out by",
            f"over bit and bar, {unit}",
            "rpm",
            "feed",
            f"bore after, {unit}",
            "minutes",
        ),
        rows=tuple(
            _pass(finished, one)
            for one in finished.plan.get("passes")
            or [*planned.get("roughing", ()), *planned["passes"]]
        ),
        numbers=(1, 2, 3, 4, 5, 6, 7),
    )
    yield Said(
        f"Bore = 2 x reading - {finished.say(planned['bar_diameter_m'])}, if the bar runs true at "
        "the bit; its swing there adds. Measure to solid bar beside the hole."
    )
    if planned["last_pass_set_from_measured_bore"]:
        yield Said(
            "Before the last pass measure the bore, cool, and move the bit out by half of what is "
            "missing: two equal passes have equal spring, so it cancels."
        )
    rough = planned.get("roughness")
    if rough:
        ends = rough["expected_mean_m"]
        yield Said(
            f"Ra {roughness(ends['low'], ends['high'], own)}; nose and feed alone would leave "
            f"{roughness(rough['ideal_mean_m'], rough['ideal_mean_m'], own)}, and high-speed "
            "steel at low speed comes out rougher.",
            "Finish:",
        )
    reading = micrometer(planned["passes"][-1]["micrometer_reading_m"], own)
    yield from picture(
        finished,
        "end_view.png",
        f"End view of bar, bit and bore; last reading over bit and bar {reading} {unit}",
    )


def _pass(finished: Finished, one: Mapping[str, Any]) -> tuple[str, ...]:
    """A pass; one of a plan has a feed and a speed of its own."""
    case, own = finished.case, finished.system
    stage = one.get("stage")
    return (
        f"pass {one['number']}" + (f", {clean(stage)}" if stage else ""),
        micrometer(one["bore_before_m"]["likely"], own),
        set_by_both(one["advance_m"], own),
        micrometer(one["micrometer_reading_m"], own),
        rpm(one.get("spindle_rpm", case.spindle_speed * 60)),
        finished.say(one.get("feed_m_per_rev", case.cut.feed), "feed"),
        _bores(one["bore_m"], own),
        f"{one['minutes']:.1f}" if "minutes" in one else "",
    )


def _bores(band: Mapping[str, float], own: Own) -> str:
    low, likely, high = (micrometer(band[end], own) for end in ("low", "likely", "high"))
    return low if low == high else f"{low} to {high}, likely {likely}"


_EDGES = {"passes": "edge rubs", "passes_without_process_damping": "edge does not rub"}


def _history(finished: Finished) -> Iterator[Part]:
    """The second opinion, where it was asked for."""
    found = finished.summary.get("history")
    if not found:
        return
    assumed = found["assumed"]
    yield Said(
        f"The first {assumed['turns_per_pass']} turns of each pass cut in time, as a second "
        f"opinion at the likely guesses alone: {found['verdict']} with the likely rubbing of the "
        f"edge, {found['verdict_without_process_damping']} with an edge that does not rub."
    )
    passes = [(words, one) for name, words in _EDGES.items() for one in found[name]]
    yield Grid(
        heads=("pass", "edge", "", "bore after", "vibration, rms", "off centre", "oval by"),
        rows=tuple(
            (
                f"pass {one['number']}",
                words,
                one["verdict"],
                _measured(finished, one.get("bore_m")),
                *(
                    finished.movement(1e6 * one[key]) if key in one else ""
                    for key in ("vibration_m", "off_centre_m", "ovality_m")
                ),
            )
            for words, one in passes
        ),
        marks=tuple("ok" if one["verdict"] == "quiet" else "miss" for _, one in passes),
        numbers=(3, 4, 5, 6),
    )
    bores = ", ".join(_measured(finished, one.get("bore_m")) for one in found["passes"])
    for name, words in (
        ("history.png", f"Movement of the edge, turn by turn; bores after each pass {bores}"),
        ("bore_round.png", f"The bore round its middle after each pass: {bores}"),
        ("bore_surface.png", f"The bored wall, its error made larger; bores {bores}"),
    ):
        yield from picture(finished, name, words)


def _measured(finished: Finished, size: float | None) -> str:
    """A size as a micrometer shows it, with its unit; nothing where none is left to measure."""
    return "no bore" if size is None else finished.measured(size)


# --- strength and holding --------------------------------------------------------------------


def _strength(finished: Finished) -> Iterator[Part]:
    found = finished.summary.get("strength")
    if not found:
        return

    def stress(value: float) -> str:
        return finished.say(value, "stress")

    peak = found.get("stress_peak_by_factors_Pa")
    rows = [("stress of the plain bar there", stress(found["stress_nominal_Pa"]))]
    if peak:
        place = clean(found.get("stress_peak_at", "the hole"), 60)
        rows.append((f"peak, at {place}", ranged(peak, "stress", finished.system)))
    solid = found.get("stress_peak_by_solid_Pa")
    if solid is not None:
        rows.append(
            ("  by the solid, its meshes' error", ranged(solid, "stress", finished.system))
        )
    rows += [
        ("yield strength of the bar", stress(found["yield_strength_Pa"])),
        ("yield strength over the peak", band_words(found["yield_margin"])),
        ("margin against fatigue", band_words(found["fatigue_margin"])),
    ]
    yield Grid(heads=("strength", "value"), rows=tuple(rows), numbers=(1,))
    yield Grid(
        heads=("cycle", "steady", "swings by", "margin"),
        rows=tuple(
            (
                one["name"],
                stress(one["steady_Pa"]),
                stress(one["alternating_Pa"]),
                times(one["margin"]),
            )
            for one in found["fatigue_cycles"]
        ),
        numbers=(1, 2, 3),
        words="Fatigue",
    )
    yield Said(clean(found["factors"]["source"], 400) + ".", "Stress factors:")
    yield Said(
        "The cut turns with the bar, so it only comes and goes; what reverses each turn is sag"
        + (" and a tail off the line." if found["misalignment_moment_Nm"]["high"] > 0 else ".")
    )


def _holding(finished: Finished) -> Iterator[Part]:
    found = finished.summary.get("holding")
    if not found:
        return
    rows = [
        ("push of the cut along the bit", ranged(found["push_back_N"], "force", finished.system))
    ]
    if "screw_hold_margin" in found:
        rows.append(
            ("hold of the set screws over that push", band_words(found["screw_hold_margin"]))
        )
    low, high = found["bit_length_shortest_m"], found["bit_length_longest_m"]
    rows.append(("length of the bit", f"{finished.stock(low)} to {finished.stock(high)}"))
    rows += [
        (f"{screw['name']} set screw", _screw(screw, finished.system)) for screw in found["screws"]
    ]
    drive = found.get("drive", {})
    if "grip_margin" in drive:
        rows.append((f"{drive['kind']} against slipping", band_words(drive["grip_margin"])))
    if found.get("tail_thrust_N") is not None:
        rows.append(
            ("thrust the tail centre needs", finished.say(found["tail_thrust_N"], "force"))
        )
    rows.append(
        ("motor power with losses", ranged(found["motor_power_W"], "power", finished.system))
    )
    yield Grid(heads=("holding", "value"), rows=tuple(rows), numbers=(1,))


def _screw(screw: Mapping[str, Any], own: Own) -> str:
    """How tight a screw is to be, and how much tighter its thread would strip."""

    def torque(key: str) -> str:
        return roughly(screw[key], "torque", own)

    held_back = screw["torque_Nm"] < 0.999 * screw["seating_torque_Nm"]
    less = f", less than the {torque('seating_torque_Nm')} that seat it" if held_back else ""
    over = screw["strips_at_torque_Nm"] / screw["torque_Nm"]
    return (
        f"{torque('torque_Nm')}{less}; pushes "
        f"{roughly(screw['preload_N']['likely'], 'force', own)}; its thread in this bar strips at "
        f"{torque('strips_at_torque_Nm')}, {times(over)} times that"
    )


def _behaviour(finished: Finished) -> Iterator[Part]:
    """What the bar does by itself; its sag stands with its bending."""
    found = finished.summary.get("behaviour")
    if not found:
        return
    own, balance = finished.system, found["balance"]
    yield Said(
        f"Off balance by {ranged(balance['unbalance_kg_m'], 'unbalance', own)}. Its pull turns "
        "with the bar: it changes size and never shape."
    )
    yield Grid(
        heads=(
            "at",
            "it pulls with at most",
            "and moves the bit by at most",
            "ISO 21940-11 grade",
        ),
        rows=tuple(
            (
                f"{rpm(one['spindle_rpm'])} rpm",
                roughly(one["pull_N"]["high"], "force", own),
                _tiny(finished, one["movement_at_bit_m"]["high"]),
                "coarser than G4000"
                if one["grade_kept"] == "none"
                else f"within {one['grade_kept']}",
            )
            for one in balance["speeds"]
        ),
        numbers=(1, 2),
    )
    pattern = found.get("run_out")
    if pattern is None:
        yield Said("none was read, so the bar is taken to run true.", "Run-out:")
        return
    swing = ranged(pattern["swing_at_bit_m"], "length", own)
    yield Said(f"{clean(pattern['meaning'], 600)}; at the bit {swing}, full swing.", "Run-out:")


def _tiny(finished: Finished, length: float) -> str:
    """A movement, or that it is smaller than anybody measures."""
    least = 1e-7
    if length > least:
        return finished.movement(1e6 * length)
    words = ("less than 0.1 um", "0.004 thou"), ("less than 0.004 thou", "0.1 um")
    first, second = words[finished.system == "inch"]
    return f"{first} ({second})"


# --- checks, trouble, inputs -----------------------------------------------------------------


def _checks(finished: Finished) -> Iterator[Part]:
    checks = finished.summary.get("setup_checks", ())
    if checks:
        yield Grid(
            heads=("check", "limit", "how", "why"),
            rows=tuple(
                tuple(clean(one[key]) for key in ("what", "limit_text", "how", "why"))
                for one in checks
            ),
        )


def _trouble(finished: Finished) -> Iterator[Part]:
    troubles = finished.summary.get("trouble", ())
    if not troubles:
        return
    yield Said(
        "The likeliest causes and the cheapest tries, by this job's own numbers; all of them are "
        "in summary.json and in `barwright trouble`."
    )
    yield Grid(
        heads=("symptom", "likely causes", "try"),
        rows=tuple(
            (
                clean(one["symptom"]),
                _numbered(cause["cause"] for cause in one["causes"][:MOST_CAUSES]),
                _numbered(_try(each) for each in one["tries"][:MOST_TRIES]),
            )
            for one in troubles
        ),
    )


def _numbered(items: Iterable[str]) -> str:
    return "; ".join(f"({k}) {clean(item)}" for k, item in enumerate(items, start=1))


def _try(one: Mapping[str, Any]) -> str:
    gain = one.get("gain_margin_times")
    return str(one["do"]) if gain is None else f"{one['do']} (margin x {times(gain)})"


_ORIGINS = (
    ("default guess", "Guessed: a wrong guess moves the answer", True),
    ("measured", "Measured", None),
    ("typed", "Typed in the case", None),
    ("chosen by plan", "Chosen by plan", None),
    ("shipped table", "From the shipped tables", None),
    ("default guess", "Taken for want of better", False),
)


def _inputs(finished: Finished) -> Iterator[Part]:
    for origin, heading, ranges in _ORIGINS:
        rows = tuple(
            (named(one["name"]), _value(finished, one))
            for one in finished.summary["inputs"]
            if one["origin"] == origin
            and one["name"] != "title"
            and (ranges is None or ranges == ("range" in one))
        )
        if rows:
            yield Under(heading)
            yield Grid(heads=("value", "taken as"), rows=rows)


def _value(finished: Finished, one: Mapping[str, Any]) -> str:
    if isinstance(one["value"], (str, bool)):
        return clean(str(one["value"]), 200)
    own, other = (valued(one, system) for system in _both(finished.system))
    return own if own == other else f"{own} = {other}"


def _both(own: Own) -> tuple[Own, Own]:
    return own, "inch" if own == "mm" else "mm"


# --- method ----------------------------------------------------------------------------------


def _method(finished: Finished) -> Iterator[Part]:
    found = finished.summary
    model, static, cut = found["model"], found["static"], found["cut"]
    change, hand = model["refinement_change"], static["hand_check"]
    kind = {
        "beam": "The bar is a stepped beam with shear (Timoshenko), in two bending planes with "
        "torsion, pull and gyroscopic terms; what the cross-hole costs was found on solids.",
        "solid": "The bar is a solid of curved second-order tetrahedra.",
    }[model["kind"]]
    yield Said(
        f"{kind} Supports are springs and dampers; the work side and the bit are in the loop. "
        f"{model['n_dof']} unknowns."
    )
    yield Said(
        f"from a coarser mesh ({model['coarse_n_dof']} unknowns) the give changed by "
        f"{change['deflection']:.1e} and the first mode by {change['first_mode']:.1e} of itself; "
        f"loads and reactions balance to {model['unbalanced']:.0e}.",
        "Mesh:",
    )
    if hand.get("difference") is not None:
        yield Said(
            f"a plain bar on the same springs springs {_way(finished, hand['value_m'])} along the "
            f"bit by {hand['formula']}; it leaves out shear, cross-hole and steps, "
            f"{abs(hand['difference']):.1%} of the give.",
            "By hand:",
        )
    force = [
        (
            f"{name} force of the bit on the work",
            ranged(
                {
                    "low": cut[f"force_{name}_range_N"][0],
                    "likely": cut[f"force_{name}_N"],
                    "high": cut[f"force_{name}_range_N"][1],
                },
                "force",
                finished.system,
            ),
            f"{cut['method']}, {cut['origin']}",
        )
        for name in ("radial", "tangential", "axial")
    ]
    force += [
        (f"factor: {clean(one['name'])}", f"{one['value']:.2f}", clean(one["source"]))
        for one in cut["factors"]
    ]
    force += [
        (
            f"tangential by {clean(one['name'])}",
            finished.say(one["force_tangential_N"], "force"),
            clean(one["source"]),
        )
        for one in cut["other_methods"]
    ]
    yield Grid(heads=("cutting force", "value", "source"), rows=tuple(force), numbers=(1,))
    yield Grid(
        heads=(
            "bar on its support",
            "along the bit",
            "across",
            "along the bar",
            "moment",
            "torque",
        ),
        rows=tuple(
            (
                clean(one["support"]),
                *(
                    finished.say(one[key], "force")
                    for key in ("radial_N", "tangential_N", "axial_N")
                ),
                *(finished.say(one[key], "torque") for key in ("moment_Nm", "torque_Nm")),
            )
            for one in static["reactions"]
        ),
        numbers=(1, 2, 3, 4, 5),
        words="What the bar puts on its supports, bit straight up",
    )
    spin = found["speed"]["spindle_rpm"] / 60
    yield Grid(
        heads=(
            "mode",
            "pitch",
            "how it moves",
            "waves per turn",
            "damping from supports",
            "residual",
        ),
        rows=tuple(
            (
                f"mode {k}",
                pitch_words(one["frequency_Hz"]),
                plane_words(one["plane"]),
                f"{one['frequency_Hz'] / spin:.0f}",
                f"{one['support_damping_ratio']:.2%}",
                f"{one['residual']:.0e}",
            )
            for k, one in enumerate(found["modes"], start=1)
        ),
        numbers=(1, 3, 4, 5),
        words="Modes",
    )
    yield Said(
        "`barwright verify` reruns the published checks of the method on your machine; the same "
        "case file gives the same numbers. fields.vtu, set_up.glb, bent_bar.glb, bar.stl and "
        "bar.dxf open in other programs."
    )
