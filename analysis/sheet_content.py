"""What a shop sheet says of a finished run: its blocks in their order, nothing solved again."""

from __future__ import annotations

import hashlib
from codecs import BOM_UTF8
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import atan, degrees, inf, sqrt
from pathlib import Path
from typing import Any

from .case import Case
from .cautions import CAUTIONS
from .finished import Finished
from .lettering import clean, text_width
from .limits import verdict_words
from .sheet_blocks import (
    BODY,
    MAIN,
    SMALL,
    TITLE,
    Block,
    Cell,
    Column,
    Fact,
    Facts,
    Item,
    Items,
    Listed,
    Paper,
    Row,
    Running,
    Sheet,
    Table,
    Title,
    Verdict,
)
from .sheet_drawing import bore_now, end_view, screw_names, side_view
from .support import AnySupport, DogCentre
from .swap import results_name
from .typesetting import GUTTER, title_room
from .units import Estimate, Own, between, rough, roughly, shop_size, show
from .wording import set_by, set_by_both

WORTH = 1.02
"""Gain of the chatter margin below which a try is not worth its line."""
TABLED, TRIES, GUESSES, CHECKS = 2, 3, 4, 5
"""Ranks: what is cut first, and what last of all that may be cut."""
MOST_IN_BOTH = 3
"""Passes that are given in both systems of units; more of them in own units alone."""
ON_ONE_PAGE = 6
"""Up to so many passes all stand on the first page; more of them have a page of their own."""
SYMPTOMS = {
    "chatter": ("If it chatters", 6, 3),
    "taper": ("If the bore tapers", 4, 2),
    "out of round with two lobes": ("If it goes oval", 3, 2),
}
"""What a sheet has tries for, under which head, and how many of each at most and at least."""
_DISPENSABLE = ("spring of", "face of the bit")
"""Checks that go first where the paper is short."""
RELIEF_SPARE = 3.0
"""What is ground beyond the least relief, degrees; common practice."""


@dataclass(frozen=True, slots=True)
class Space:
    """How much paper the drawings and the speeds may take.

    Attributes
    ----------
    side, end : mm, height of the side view and of the end view at most
    speeds : how many of the lathe's speeds at most, those about the cut's own
    told : whether the checks say how they are done
    """

    side: float
    end: float
    speeds: int
    told: bool = False


def sheet_of(finished: Finished, paper: Paper, space: Space) -> Sheet:
    """The whole sheet, before anything is left out of its lists."""
    width = paper.inner[0]
    left = 0.48 * (width - GUTTER)
    rows = (
        Row(columns=((_title(finished, width), *_heading(finished)),)),
        Row(columns=((verdict(finished),),)),
        Row(columns=((side_view(finished, width, space.side),),)),
        Row(
            columns=((end_view(finished, left, space.end),), (making(finished),)),
            shares=(0.48, 0.52),
        ),
        Row(columns=(tuple(_passes(finished)),)),
        Row(
            columns=(
                tuple(_checks(finished, told=space.told)),
                tuple(_troubles(finished)),
                (*_sign_off(finished), *_speeds(finished, space.speeds)),
            ),
            shares=(0.37, 0.34, 0.29),
        ),
        Row(columns=((_cautions(),),)),
        Row(columns=(tuple(_footer(finished)),)),
    )
    return Sheet(
        title=clean(finished.case.title, 120),
        paper=paper,
        rows=tuple(row for row in rows if any(row.columns)),
    )


def passes_sheet(finished: Finished, paper: Paper) -> Sheet:
    """Every pass, for a page of its own where the first page has no room for all."""
    head = replace(_title(finished, paper.inner[0]), aside="Shop sheet, continued")
    whole = (
        replace(one, least=len(one.rows)) if isinstance(one, Table) else one
        for one in _passes(finished)
    )
    rows = (Row(columns=((head,),)), Row(columns=(tuple(whole),)))
    return Sheet(title=clean(finished.case.title, 120), paper=paper, rows=rows)


def passes_cut(sheet: Sheet) -> bool:
    """Whether a sheet lacks some of its passes."""
    blocks = (block for row in sheet.rows for column in row.columns for block in column)
    return any(isinstance(one, Table) and one.title == "Passes" and one.left_out for one in blocks)


def much_left_out(sheet: Sheet) -> int:
    """How many checks, guesses and tries were left out: what a sheet should not be without."""
    blocks = (block for row in sheet.rows for column in row.columns for block in column)
    return sum(one.left_out for one in blocks if isinstance(one, Listed) and one.rank > TABLED)


# --- words and numbers -----------------------------------------------------------------------


def _other(system: Own) -> Own:
    return "inch" if system == "mm" else "mm"


def ranged(band: Mapping[str, Any], kind: str, system: Own) -> str:
    """A band in own units, its likely value in both.

    Examples
    --------
    >>> ranged({"low": 1.7e-6, "likely": 7e-6, "high": 28e-6}, "length", "mm")
    '1.7 to 28 um, likely 7 um (0.28 thou)'
    """
    ends = between(band["low"], band["high"], kind, system)
    likely = roughly(band["likely"], kind, system)
    alike = rough(band["low"], kind, system) == rough(band["high"], kind, system)
    return likely if alike else f"{ends}, likely {likely}"


def times(value: float | str) -> str:
    """A margin with two digits; what has no limit is over 100."""
    number = inf if isinstance(value, str) else value
    return "over 100" if number > 100 else f"{number:.2g}"


def rpm(turns: float) -> str:
    """Turns a minute; more digits than this no belt holds.

    Examples
    --------
    >>> rpm(91.673), rpm(62.5), rpm(1120.0)
    ('92', '62', '1120')
    """
    return f"{turns:.0f}" if turns >= 10 else f"{turns:.2g}"


def micrometer(value: float, system: Own) -> str:
    """A size as a micrometer shows it: 0.001 mm or 0.0001 in."""
    return f"{value * 1e3:.3f}" if system == "mm" else f"{value / 0.0254:.4f}"


# --- head ------------------------------------------------------------------------------------


def _title(finished: Finished, width: float) -> Title:
    """The case's title in the largest letters that hold it."""
    text, aside = clean(finished.case.title, 120), "Shop sheet for one line-bored hole"
    room = title_room(aside, width)
    fitting = (p for p in (TITLE, 12.0, 11.0, 10.0) if text_width(text, p, bold=True) <= room)
    return Title(text=text, aside=aside, points=next(fitting, 10.0))


def _heading(finished: Finished) -> Iterable[Block]:
    case, job = finished.case, finished.case.job
    facts = [
        Fact(name, clean(value, 90))
        for name, value in (("Part", job.part), ("Drawing", job.drawing), ("Note", job.note))
        if value
    ]
    length = "not given" if case.work.length is None else finished.say(case.work.length)
    facts += [
        Fact("Finish size", finish_size(finished)),
        Fact("Bore now", finished.say(bore_now(finished))),
        Fact("Length", length),
        Fact("Work", clean(case.work.material.name, 60)),
    ]
    if "name" in case.lathe.model_fields_set:
        facts.append(Fact("Lathe", clean(case.lathe.name, 60)))
    yield Facts(title="", facts=tuple(facts), running=True)


def finish_size(finished: Finished) -> str:
    """The bore with its limits, as typed and in both systems."""
    bore, system = finished.case.work.bore, finished.system
    limits = f"{show(bore, 'fit', system)} ({show(bore, 'fit', _other(system))})"
    fit = bore.text if any(letter in bore.text for letter in "HGFEJKMNPhgf") else ""
    return f"{clean(fit, 24)}: {limits}" if fit and "in" not in fit else limits


def answer(finished: Finished) -> str:
    """The verdict, as the run printed it."""
    case, found = finished.case, finished.summary
    margins = found["chatter"]["gain_margin"]
    wanted = case.limits.chatter_margin
    bare = found["chatter"]["gain_margin_without_process_damping"]
    size = found["static"]["bore_diameter_error_size_m"]
    return verdict_words(
        within_limits=found["within_limits"],
        quiet_unrubbed=_number(bare) >= wanted,
        doubtful=size["high"] > case.allowed_size_error or _number(margins["low"]) < wanted,
    )


def _number(value: float | str) -> float:
    """A limit read back: the word `none` is no limit at all."""
    return inf if isinstance(value, str) else value


def verdict(finished: Finished) -> Verdict:
    """The answer, and the lines that explain it."""
    lines = (_set_up(finished), _size(finished), _chatter(finished), *_missed(finished))
    return Verdict(answer=answer(finished), lines=(*_changed(finished), *lines))


def changed_case(finished: Finished) -> Path | None:
    """The file of the case, if it is no longer what was run: the copy in the folder, or its own.

    Its own is looked for where cases of these results lie: beside them, in the folder that holds
    them, and in `cases` there; for the run of a planned case, in the folder of the plan.
    """
    known = finished.summary.get("case", {})
    if "sha256" not in known:
        return None
    folder = finished.folder.absolute()
    above, name = folder.parent, clean(str(known["file"]))
    places = (
        above,
        above.parent,
        above.parent / "cases",
        above / folder.name.removesuffix("-case"),
    )
    own = (place / name for place in places if Path(name).name == name)
    of_this = (path for path in own if path.is_file() and results_name(path) == folder.name)
    found = next((path for path in of_this if not _is_what_was_run(path, known["sha256"])), None)
    copy = folder / "case.yaml"
    return copy if not _is_what_was_run(copy, known["sha256"]) else found


def _is_what_was_run(path: Path, sha256: str) -> bool:
    """Whether a file has the fingerprint of the run; the copy of a case has lost its byte mark."""
    content = path.read_bytes()
    return sha256 in (hashlib.sha256(mark + content).hexdigest() for mark in (b"", BOM_UTF8))


def _changed(finished: Finished) -> tuple[str, ...]:
    path = changed_case(finished)
    if path is None:
        return ()
    return (
        f"CHANGED SINCE THIS RUN: {clean(path.name, 60)}. The numbers here are those of before; "
        "run it again before you cut.",
    )


def _held(case: Case) -> str:
    drive, tail = case.supports.drive, case.supports.tail
    if isinstance(drive, DogCentre):
        return f"Between centres, driven by a dog, tail on a {tail.kind}" if tail else "On a dog"
    head = f"In the {drive.kind}"
    return f"{head}, tail in a {tail.kind}" if tail else f"{head}, tail free"


def _set_up(finished: Finished) -> str:
    case = finished.case
    steady = "".join(f", {one.kind} between" for one in case.supports.others)
    span, at, bit, bar = (
        shop_size(size, finished.system)
        for size in (case.bar.span, case.cross_hole.position, case.bit.size, case.bar.diameter)
    )
    feed = show(case.cut.feed, "feed", finished.system)
    return (
        f"{_held(case)}{steady}: {clean(case.bar.material.name, 40)} bar {bar}, span {span}, bit "
        f"{bit} at {at}; {rpm(case.spindle_speed * 60)} rpm, {feed}."
    )


def _size(finished: Finished) -> str:
    found, system = finished.summary["static"], finished.system
    way = "small" if found["bore_diameter_error_m"] < 0 else "large"
    limit = finished.say(finished.case.allowed_size_error)
    line = (
        f"Bar spring cuts the bore {way} by "
        f"{ranged(found['bore_diameter_error_size_m'], 'length', system)}, the same all along it "
        f"(limit {limit})."
    )
    planned = finished.summary.get("passes", {})
    if planned.get("last_pass_set_from_measured_bore"):
        line += f" Last pass set from the measured bore: {_bore(planned['passes'][-1], system)}."
    return line


def _bore(one: Mapping[str, Any], system: Own) -> str:
    unit = "mm" if system == "mm" else "in"
    low, high = (micrometer(one["bore_m"][end], system) for end in ("low", "high"))
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"


def _chatter(finished: Finished) -> str:
    found = finished.summary["chatter"]
    low, likely, high = (times(found["gain_margin"][end]) for end in ("low", "likely", "high"))
    reason = clean(found["reason"], 220)
    return f"Chatter: margin {low} to {high}, likely {likely} (1 just sings); {reason}."


def _missed(finished: Finished) -> tuple[str, ...]:
    """Limits that are not met, each with its value."""
    missed = [one for one in finished.summary["findings"] if not one["ok"]]
    if not missed:
        return ()
    said = [
        f"{one['what']} {found_words(one['value'], one['kind'], finished.system)} (limit "
        f"{found_words(one['limit'], one['kind'], finished.system)})"
        for one in missed
    ]
    return (f"NOT MET: {'; '.join(said)}.",)


def found_words(value: float, kind: str, system: Own) -> str:
    """A value or a limit in one system; a margin with the two digits that it is worth."""
    return times(value) if kind == "ratio" else show(value, kind, system)


# --- what to make ----------------------------------------------------------------------------


def making(finished: Finished) -> Facts:
    """What the shop has to make: bar, holes, screws, bit."""
    facts = (
        _stock(finished),
        *_steps(finished),
        _centres(finished),
        _hole(finished),
        *_other_holes(finished),
        *_screws(finished),
        _bit(finished),
        _grind(finished),
    )
    return Facts(title="To make", facts=facts, points=SMALL)


def _stock(finished: Finished) -> Fact:
    case = finished.case
    first, last = case.ends
    metal = clean(case.bar.material.name, 40)
    return Fact(
        "Bar",
        f"{metal}, {finished.stock(case.bar.diameter)} x {finished.stock(last - first)} long "
        "over all",
    )


def _steps(finished: Finished) -> Iterable[Fact]:
    """Lengths turned to another diameter, measured like the hole from the drive end of the bar."""
    steps, drive_end = finished.case.bar.steps, finished.case.ends[0]
    if steps:
        said = [
            f"{finished.say(one.diameter)} from "
            f"{shop_size(one.start - drive_end, finished.system)} to "
            f"{shop_size(one.end - drive_end, finished.system)}"
            for one in steps
        ]
        yield Fact("Turned", f"{'; '.join(said)} from the drive end")


def _centres(finished: Finished) -> Fact:
    case = finished.case
    supports: list[tuple[str, AnySupport | None]] = [
        ("drive end", case.supports.drive),
        ("tail end", case.supports.tail),
    ]
    ends = [name for name, one in supports if one is not None and "centre" in one.kind]
    if not ends:
        return Fact("Centres", "none needed")
    mouth = case.bar.centre_hole_diameter
    size = f"{finished.say(mouth)} across the mouth, " if mouth else ""
    return Fact("Centres", f"{size}60 deg, deep and clean, {' and '.join(ends)}")


def _hole(finished: Finished) -> Fact:
    case, hole = finished.case, finished.case.cross_hole
    place = f"{finished.stock(hole.position - case.ends[0])} from the drive end of the bar"
    if abs(hole.middle) < 1e-9:
        off = "middle on the centre line"
    else:
        side = "leading" if hole.middle > 0 else "trailing"
        off = f"middle {finished.stock(abs(hole.middle))} to the {side} side"
    corner = f", corners {finished.say(hole.corner_radius)}" if hole.corner_radius else ""
    return Fact(
        "Cross-hole",
        f"{hole.shape}, {shop_size(hole.size, finished.system)}, {place}; {off}{corner}",
    )


def _screws(finished: Finished) -> Iterable[Fact]:
    hole = finished.case.cross_hole
    if not hole.set_screws:
        return
    held = finished.summary.get("holding", {})
    sizes = ", ".join(
        f"{name} from the {screw.side} side"
        for screw, name in zip(hole.set_screws, screw_names(finished), strict=True)
    )
    room = held.get("screw_head_room_m")
    proud = ""
    if room is not None:
        proud = f"; head up to {finished.say(room)} proud" if room > 0 else "; head sunk"
    yield Fact("Set screws", f"{sizes}{proud}")


def _bit(finished: Finished) -> Fact:
    case = finished.case
    held = finished.summary.get("holding", {})
    shape = "round" if case.cross_hole.shape == "round" else "square"
    size = shop_size(case.bit.size, finished.system)
    text = f"high-speed steel, {size} {shape}, out of the bar {finished.stock(case.projection)}"
    low, high = held.get("bit_length_shortest_m"), held.get("bit_length_longest_m")
    if low is not None and high is not None and low < high:
        text += f"; length {shop_size(low, finished.system)} to {finished.stock(high)}"
        if case.bit.length is not None:
            text += f" (this one {shop_size(case.bit.length, finished.system)})"
    return Fact("Bit", text)


def least_relief(case: Case) -> float:
    """Least front relief with which the heel of the bit clears the bore, degrees.

    An edge at radius R whose face lies x off the line through the axis stands ``sqrt(R^2 - x^2)``
    out; s behind it the bore is ``sqrt(R^2 - (x + s)^2)`` away, and a straight relief must fall
    by the difference (plane geometry). A round bit is taken as ground to half of its diameter.
    """
    size, middle, radius = case.bit.size, -case.cross_hole.middle, case.edge_radius
    square = case.cross_hole.shape == "square"
    face, deep = (middle - size / 2, size) if square else (middle, size / 2)
    edge, bore = (sqrt(max(radius**2 - x**2, 0.0)) for x in (face, face + deep))
    return degrees(atan(max(0.0, edge - bore) / deep))


def _grind(finished: Finished) -> Fact:
    bit = finished.case.bit
    relief = least_relief(finished.case)
    return Fact(
        "Grind",
        f"nose radius {finished.say(bit.nose_radius)}, lead {show(bit.lead_angle, 'angle')}, rake "
        f"{show(bit.rake, 'angle')}, front relief {relief + RELIEF_SPARE:.0f} deg (the heel just "
        f"clears at {relief:.0f}); stone it",
    )


def _other_holes(finished: Finished) -> Iterable[Fact]:
    """Further cross-holes, measured like the first from the drive end of the bar."""
    case = finished.case
    if case.bar.other_holes:
        places = ", ".join(
            f"{shop_size(one.size, finished.system)} at "
            f"{finished.stock(one.position - case.ends[0])}"
            for one in case.bar.other_holes
        )
        yield Fact("Other holes", f"{places}; alike, and empty while this one cuts")


# --- passes ----------------------------------------------------------------------------------


def _passes(finished: Finished) -> Iterable[Block]:
    planned = finished.summary.get("passes")
    if not planned or not planned["passes"]:
        return
    unit = "mm" if finished.system == "mm" else "in"
    passes = finished.plan.get("passes") or [
        *planned.get("roughing", ()),
        *planned["passes"],
    ]
    both = len(passes) <= MOST_IN_BOTH
    columns = (
        Column(heads=("pass",), share=7, anchor="middle"),
        Column(heads=(f"micrometer over bit and bar, {unit}",), share=22, anchor="middle"),
        Column(heads=("depth of cut (radius)",), share=17, anchor="middle"),
        Column(heads=("rpm",), share=9, anchor="middle"),
        Column(heads=("feed",), share=23, anchor="middle"),
        Column(heads=("min",), share=8, anchor="middle"),
        Column(heads=(f"expect bore, {unit}",), share=32, anchor="middle"),
        Column(heads=("got: over bit and bar",), share=18),
        Column(heads=("got: bore near end",), share=18),
        Column(heads=("got: bore far end",), share=18),
    )
    yield Table(
        title="Passes",
        columns=columns,
        rows=tuple(_pass(finished, one, both=both) for one in passes),
        note=_passes_note(finished, planned),
        points=MAIN,
        rank=9 if len(passes) <= ON_ONE_PAGE else 8,
        least=len(passes) if len(passes) <= ON_ONE_PAGE else 3,
        last=2,
        where="between them: all are on the next page",
    )


def _pass(finished: Finished, one: Mapping[str, Any], *, both: bool) -> tuple[Cell, ...]:
    """A pass in own units and, where `both` are wanted, in the others below."""
    case, own = finished.case, finished.system
    other = _other(own)
    low, high = (micrometer(one["bore_m"][end], own) for end in ("low", "high"))
    likely = micrometer(one["bore_m"]["likely"], own)
    depth, minutes = one["depth_m"]["likely"], one.get("minutes")
    feed = one.get("feed_m_per_rev", case.cut.feed)
    turns = one.get("spindle_rpm", case.spindle_speed * 60)
    unit = "in" if own == "mm" else "mm"
    cells = (
        Cell(str(one["number"]), bold=True),
        Cell(
            micrometer(one["micrometer_reading_m"], own),
            f"{micrometer(one['micrometer_reading_m'], other)} {unit}",
            bold=True,
        ),
        Cell(set_by(depth, own), set_by(depth, other)),
        Cell(rpm(turns)),
        Cell(show(feed, "feed", own), show(feed, "feed", other)),
        Cell("" if minutes is None else f"{minutes:.1f}"),
        Cell(low if low == high else f"{low} to {high}", f"likely {likely}", bold=True),
        Cell(),
        Cell(),
        Cell(),
    )
    return cells if both else tuple(replace(cell, below="") for cell in cells)


def _passes_note(finished: Finished, planned: Mapping[str, Any]) -> str:
    bar = finished.say(planned["bar_diameter_m"])
    note = (
        f"Bore = 2 x reading - {bar} if the bar runs true at the bit; its swing there adds. "
        "Measure to solid bar beside the hole."
    )
    if planned["last_pass_set_from_measured_bore"]:
        advance = set_by_both(planned["passes"][-1]["advance_m"], finished.system)
        note = (
            f"Before the last pass measure the bore, cool, and move the bit out by half of what "
            f"is missing (about {advance}); its reading above is only the likely one. {note}"
        )
    return note


# --- checks and sign-off ---------------------------------------------------------------------


def _checks(finished: Finished, *, told: bool) -> Iterable[Block]:
    """What to check on the set-up, each with its limit; only if the run says so."""
    checks = finished.summary.get("setup_checks", ())
    ordered = sorted(checks, key=lambda one: one["what"].startswith(_DISPENSABLE))
    items = tuple(
        Item(
            f"{_opened(clean(one['what'], 70))}:",
            _limit_of(one, finished.system) + (f"; {clean(one['by'], 60)}" if told else ""),
        )
        for one in ordered
    )
    if items:
        yield Items(
            title="Check before cutting, power off",
            items=items,
            mark="box",
            rank=CHECKS,
            least=6,
        )


def _limit_of(one: Mapping[str, Any], system: Own) -> str:
    """A limit in own units, two digits; as the run worded it where it is no shop quantity."""
    kind = _KINDS.get(one["unit"]) if one["unit"] else None
    if kind is None or "sense" not in one:
        return clean(one["limit_text"], 40)
    return f"{one['sense']} {rough(one['limit'], kind, system)}"


def _opened(text: str) -> str:
    return text[:1].upper() + text[1:]


def _sign_off(finished: Finished) -> Iterable[Block]:
    unit = "mm" if finished.system == "mm" else "in"
    columns = (
        Column(heads=(f"bore, {unit}",), share=20),
        Column(heads=("up-down",), share=20),
        Column(heads=("sideways",), share=20),
    )
    places = ("head end", "middle", "tail end")
    yield Table(
        title=f"Sign-off: {_limits(finished)}",
        columns=columns,
        rows=tuple((Cell(place), Cell(), Cell()) for place in places),
        roomy=True,
        rank=9,
        least=3,
        points=BODY,
    )
    names = ("Gauge", "Bore temp.", "Gauge temp.", "Initials", "Date")
    blanks = tuple(Fact(name, "") for name in names)
    yield Facts(title="", facts=blanks, running=True, blank=10.5, points=SMALL)


def _limits(finished: Finished) -> str:
    bore = finished.case.work.bore
    size = show(bore, "fit", finished.system)
    return size if bore.lower < bore.upper else f"{size}, no limits given"


# --- speeds, trouble, cautions ---------------------------------------------------------------


def _speeds(finished: Finished, most: int) -> Iterable[Block]:
    """The lathe's speeds in words; only if the run judged them."""
    found = finished.summary.get("speeds")
    if not found:
        return
    speeds = found["speeds"]
    rows = _about_the_cut(speeds, most)
    best, asked = (rpm(found[name]["spindle_rpm"]) for name in ("pick", "asked"))
    yield Table(
        title=f"Speeds: best {best}, this cut {asked} rpm",
        columns=(
            Column(heads=("",), share=18, anchor="end"),
            Column(heads=("",), share=15),
            Column(heads=("",), share=44),
        ),
        rows=tuple(_speed(one) for one in rows),
        points=SMALL,
        ruled=False,
        rank=9,
        least=len(rows),
        left_out=len(speeds) - len(rows),
    )


def _about_the_cut(speeds: Sequence[Mapping[str, Any]], most: int) -> Sequence[Mapping[str, Any]]:
    """At most so many speeds, those about the cut's own."""
    asked = next(k for k, one in enumerate(speeds) if one["this_cut"])
    first = min(max(0, asked - most // 2), max(0, len(speeds) - most))
    return speeds[first : first + most]


def _speed(one: Mapping[str, Any]) -> tuple[Cell, ...]:
    verdict = one["verdict"]
    return (
        Cell(f"{rpm(one['spindle_rpm'])} rpm", bold=bool(one["this_cut"])),
        Cell(verdict.upper() if verdict == "avoid" else verdict, bold=verdict == "avoid"),
        Cell(clean(one["reasons"][0]["short"], 40)),
    )


def _troubles(finished: Finished) -> Iterable[Block]:
    """First tries for what goes wrong most, with this job's numbers; only if the run says so."""
    found = {one["symptom"]: one["tries"] for one in finished.summary.get("trouble", ())}
    for symptom, (title, most, least) in SYMPTOMS.items():
        tries = _worth_trying(found.get(symptom, ()))
        if tries:
            yield Items(
                title=title,
                items=tuple(_try(one) for one in tries[:most]),
                mark="number",
                rank=TRIES,
                least=least,
                left_out=max(0, len(tries) - most),
            )


def _worth_trying(tries: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """The first try, which costs nothing, then those with a number, then the rest.

    What was computed to gain nothing is left out.
    """
    good = [one for one in tries if one.get("gain_margin_times", inf) > WORTH]
    return [*good[:1], *sorted(good[1:], key=lambda one: "gain_margin_times" not in one)]


def _try(one: Mapping[str, Any]) -> Item:
    """What to do, and what it gains in few words."""
    do, gain = _opened(clean(one["do"], 100).rstrip(".")), one.get("gain_margin_times")
    return Item(f"{do}." if gain is None else f"{do} (margin x {times(gain)}).")


def _cautions() -> Running:
    return Running(
        lead="Before the spindle turns:",
        items=tuple(caution.rstrip(".") for caution in CAUTIONS),
        between=". ",
        rank=9,
        least=len(CAUTIONS),
    )


# --- footer ----------------------------------------------------------------------------------

_KINDS = {
    "m": "length",
    "m/rev": "feed",
    "N": "force",
    "kg": "mass",
    "N/m": "stiffness",
    "N.m/rad": "turn stiffness",
    "N.s/m": "damping",
    "Pa": "stress",
    "kg/m3": "density",
    "m/s": "surface speed",
    "W": "power",
    "rad": "angle",
    "": "ratio",
}


def _footer(finished: Finished) -> Iterable[Block]:
    yield from _budget(finished)
    groups = (
        ("Measured:", "measured", None, 8),
        ("Guessed (range), to be measured:", "default guess", True, GUESSES),
        ("From the shipped tables (range):", "shipped table", None, TABLED),
        ("Taken for want of better:", "default guess", False, 1),
    )
    for lead, origin, with_range, rank in groups:
        items = tuple(_assumed(finished, origin, with_range))
        if items:
            yield Running(lead=lead, items=items, rank=rank, least=1)
    found = finished.summary
    yield Running(
        lead=f"barwright {found['barwright']}",
        items=(
            f"{found['model']['kind']} model",
            f"case {clean(found['case']['file'], 60)}",
            f"SHA-256 of the case {found['case']['sha256'][:16]}",
            'every number with its origin, and all that "and more" leaves out, in summary.json'
            + (" and plan.json" if finished.plan else ""),
        ),
        least=4,
        rank=9,
    )


def _budget(finished: Finished) -> Iterable[Block]:
    """Where the length of the span goes, if the job was planned."""
    parts = tuple(
        f"{clean(one['part'], 60)} {shop_size(one['length_m'], finished.system)}"
        for one in finished.plan.get("budget", ())
    )
    if parts:
        yield Running(lead="Span goes to:", items=parts, rank=TABLED)


def _assumed(finished: Finished, origin: str, with_range: bool | None) -> Iterable[str]:
    """Each number of an origin, with its range; `with_range` keeps those with or without one."""
    for one in finished.summary["inputs"]:
        value = one["value"]
        if one["origin"] != origin or isinstance(value, (str, bool)):
            continue
        if with_range is None or with_range == ("range" in one):
            yield f"{named(one['name'])} {valued(one, finished.system)}"


def named(name: str) -> str:
    """A dotted name in words.

    Examples
    --------
    >>> named("supports.drive.radial_stiffness"), named("cross_hole.set_screws[0].shift")
    ('drive radial stiffness', 'set screw 1 shift')
    """
    parts = [part for part in name.split(".") if part not in ("supports", "cross_hole", "cut")]
    said = []
    for part in parts:
        word, bracket, number = part.rstrip("]").partition("[")
        word = word.replace("_", " ")
        if bracket:
            word = f"{'support' if word == 'others' else word.rstrip('s')} {int(number) + 1}"
        said.append(word)
    return " ".join(said)


def valued(one: Mapping[str, Any], system: Own) -> str:
    """A value of the summary with its range, in one system."""
    kind = _KINDS.get(one["unit"], "ratio")
    if one["unit"] == "Hz":
        kind = "spindle speed" if "speed" in one["name"] else "frequency"
    value = float(one["value"])
    ends = one.get("range")
    if not ends or any(isinstance(end, str) for end in ends):
        return show(value, kind, system)
    return show(Estimate(value, *(float(end) for end in ends)), kind, system)
