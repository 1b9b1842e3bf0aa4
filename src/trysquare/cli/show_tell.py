"""The facts of `show` as a page for people."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from trysquare.cli import words
from trysquare.cli.page import QUIET, Page

Facts = dict[str, Any]


def tell_thing(page: Page, facts: Facts) -> None:
    """One thing: what it is, where it stands, what holds it, who says so."""
    page.heading(f"{facts['id']} · {facts['sort']}")
    _TELL[facts["sort"]](page, facts)
    if "who_says" in facts:
        _who_says(page, facts["who_says"])


def _unit(page: Page, facts: Facts) -> None:
    page.table(
        ("part", "sort", "at x, y, z"),
        [(row["id"], row["part"], words.point(row["at_mm"])) for row in facts["parts"]],
    )
    page.table(
        ("joint", "recipe", "screws"),
        [(row["joint"], row["recipe"], row["screw"]) for row in facts["joints"]],
    )
    page.table(("step", "title"), [(row["step"], row["title"]) for row in facts["steps"]])


def _placed(page: Page, facts: Facts) -> None:
    page.pairs(
        (
            ("is", _is(facts["part"], facts["name"], facts["kind"])),
            ("brought", f"by joint {facts['brought_by']}" if facts["brought_by"] else ""),
            ("length", words.length(facts["length_mm"]) if facts["length_mm"] else ""),
            ("at", words.point(facts["at_mm"])),
            ("lies", f"own x points {facts['own_x']}, own z points {facts['own_z']}"),
            ("steps", _steps(facts)),
        )
    )
    for joint in facts["held_by"]:
        page.line(f"held by {joint['joint']} ({joint['recipe']})", 2, "bold")
        page.pairs((("to", words.listed(joint["to"])),), indent=4)
        _screws(page, joint["screws"], indent=4)
    if facts["in_its_slots"]:
        page.line("in its slots, from end a", 2, "bold")
        page.table(
            ("slot", "mm", "what", "joint"),
            [
                (row["face"], words.number(row["from_end_a_mm"]), row["part"], row["joint"])
                for row in facts["in_its_slots"]
            ],
            indent=4,
            right=frozenset({1}),
        )


def _is(part: str, name: str, kind: str) -> str:
    return f"{part}, {name}, {kind}" if name != part else f"{part}, {kind}"


def _steps(facts: Facts) -> str:
    return ", ".join(f"{row['step']} ({row['does']})" for row in facts["steps"])


def _profile(page: Page, facts: Facts) -> None:
    page.pairs(
        (
            ("slot", f"{words.number(facts['slot_mm'])}, its mouth {words.length(facts['mouth_mm'])} wide"),
            ("core", f"takes {facts['core_thread']} when tapped" if facts["core_thread"] else ""),
            ("source", facts["source"]),
        )
    )
    page.table(
        ("pieces", "mm", "member", "name"),
        [
            (str(row["pieces"]), words.number(row["length_mm"]), row["part"], row["name"])
            for row in facts["members"]
        ],
        right=frozenset({0, 1}),
    )
    page.line(
        f"{words.count(facts['pieces'], 'member')}, together {words.length(facts['together_mm'])}", 2, "bold"
    )


def _part_type(page: Page, facts: Facts) -> None:
    listed = f", {facts['pieces_listed']} on the list" if facts["pieces_listed"] is not None else ""
    page.pairs(
        (
            ("is", _is(facts["id"], facts["name"], facts["kind"])),
            ("as", facts["standard"] if facts["standard"] != facts["id"] else ""),
            ("length", words.length(facts["length_mm"]) if facts["length_mm"] else ""),
            ("thick", words.length(facts["thickness_mm"]) if facts["thickness_mm"] else ""),
            ("tapped", f"ends {words.listed(facts['tapped_ends'])}" if facts["tapped_ends"] else ""),
            ("shape", facts["shape_file"] or ("" if facts["has_solid"] else "none: clashes not checked")),
            ("made of", facts["material"]),
            ("mass", f"{words.number(facts['mass_gram'])} g" if facts["mass_gram"] else ""),
            ("hand", facts["hand"]),
            ("revision", facts["revision"]),
            ("called", words.listed(facts["also_called"])),
            ("pieces", f"{facts['pieces']} placed{listed}"),
            ("placed", words.listed(facts["placed"], 12)),
            ("source", facts["source"]),
        )
    )
    page.table(
        ("hole", "at x, y, z", "diameter", "deep", "takes"),
        [
            (
                hole["hole"],
                words.point(hole["at_mm"]),
                words.number(hole["diameter_mm"]),
                "through" if hole["through"] else words.number(hole["depth_mm"]),
                hole["takes"],
            )
            for hole in facts["holes"]
        ],
        right=frozenset({2}),
    )


def _joint(page: Page, facts: Facts) -> None:
    torque = facts["stated_torque_newton_metre"]
    page.pairs(
        (
            ("recipe", facts["recipe"]),
            ("unit", facts["unit"]),
            ("joins", words.listed(facts["parts"])),
            ("brings", ", ".join(f"{pieces} × {part}" for part, pieces in facts["brings"].items())),
            ("torque", f"{words.number(torque)} N·m as the paper says" if torque else ""),
            ("lock", words.listed(facts["locks"])),
            ("align", facts["align"]),
            ("tighten", _orders(facts["orders"])),
            ("slides", ", ".join(f"{block} on {rail}" for block, rail in facts["slides_on"].items())),
            ("steps", _steps(facts)),
            ("note", facts["note"]),
        )
    )
    if facts["belt"]:
        _belt(page, facts["belt"])
    if facts["cable"]:
        _cable(page, facts["cable"])
    _screws(page, facts["screws"], indent=2)


def _orders(orders: list[Facts]) -> str:
    """In which order screws are tightened, by their numbers in the joint; one after another for several
    parts, each under its name."""
    told = [(one["part"], one["says"], [name.rpartition(".")[2] for name in one["screws"]]) for one in orders]
    if len(told) > 1:
        return "; ".join(f"{part} {says}: {', '.join(numbers)}" for part, says, numbers in told)
    return "; ".join(f"{says}: {', '.join(numbers)}" for _, says, numbers in told)


def _belt(page: Page, belt: Facts) -> None:
    page.pairs(
        (
            ("belt", f"{belt['belt']}, {'closed' if belt['closed'] else 'open'}"),
            ("length", f"{words.length(belt['length_mm'])}, {words.number(belt['teeth'])} teeth"),
            ("as long", f"as {belt['equal_to']}" if belt["equal_to"] else ""),
            (
                "meshes",
                ", ".join(f"{words.number(n)} teeth on {name}" for name, n in belt["teeth_in_mesh"].items()),
            ),
        )
    )
    page.table(
        ("span from", "to", "mm"),
        [(span["from"], span["to"], words.number(span["length_mm"])) for span in belt["spans"]],
        right=frozenset({2}),
    )


def _cable(page: Page, cable: Facts) -> None:
    page.pairs(
        (
            ("cable", f"{cable['label']}: {cable['cores']} × {cable['wire']}, {cable['role']}"),
            ("from", cable["from"]),
            ("to", cable["to"]),
            ("through", words.listed(cable["through"])),
            ("length", words.length(cable["length_mm"])),
            ("carries", f"{words.number(cable['ampere'])} A at {words.number(cable['volt'])} V"),
        )
    )


def _screw(page: Page, facts: Facts) -> None:
    page.pairs((("joint", facts["joint"]), ("steps", _steps(facts))))
    _screws(page, facts["screws"], indent=2)


def _screws(page: Page, screws: list[Facts], indent: int) -> None:
    """Each screw; those that differ only in their place stand together."""
    alike: dict[str, list[Facts]] = {}
    for screw in screws:
        alike.setdefault(repr([_key(screw), _passes(screw), _bites(screw), _torque(screw)]), []).append(screw)
    for rows in alike.values():
        first = rows[0]
        page.line(f"{len(rows)} × {first['designation']}", indent, "bold")
        page.pairs(
            (
                ("screws", words.listed(row["screw"] for row in rows)),
                ("passes", _passes(first)),
                ("bites", _bites(first)),
                ("slot", _slots(rows)),
                ("key", _key(first)),
                ("torque", _torque(first)),
                ("heads", "; ".join(words.point(row["head_at_mm"]) for row in rows)),
            ),
            indent=indent + 2,
        )


def _passes(screw: Facts) -> str:
    return ", ".join(
        f"{grip['part']} {words.number(grip['to_mm'] - grip['from_mm'])} mm" for grip in screw["passes"]
    )


def _bites(screw: Facts) -> str:
    spare = screw["to_spare_mm"]
    free = f", {words.number(spare)} mm free at the tip" if spare is not None else ""
    return (
        f"{screw['bites']}: {words.number(screw['engaged_mm'])} mm of thread, "
        f"{words.number(screw['needed_mm'])} mm needed{free}"
    )


def _slots(screws: list[Facts]) -> str:
    """Each slot once, with where in it the nuts or heads lie."""
    places: dict[str, list[str]] = {}
    for screw in screws:
        if screw["slot"]:
            what = "heads in " if screw["head_in_slot"] else ""
            places.setdefault(what + screw["slot"], []).append(words.number(screw["slot_from_end_a_mm"]))
    return "; ".join(f"{slot} at {', '.join(ats)} mm from end a" for slot, ats in places.items())


def _key(screw: Facts) -> str:
    hole = screw["access_hole_mm"]
    through = f", through the {words.number(hole)} mm access hole" if hole else ""
    return f"hexagon key {words.number(screw['key_mm'])} mm{through}"


def _torque(screw: Facts) -> str:
    if screw["torque_newton_metre"] is None:
        soft = screw["torque_limited_by"]
        return (
            f"none: to its mark or reading, never tight; the {soft} in the joint gives way "
            f"({screw['torque_source']})"
            if soft
            else ""
        )
    guess = ", assumed" if screw["torque_is_assumed"] else ""
    return (
        f"{screw['torque_newton_metre']:.2f} N·m at most, limited by the "
        f"{screw['torque_limited_by']}{guess}; snug {screw['snug_newton_metre']:.2f} N·m"
    )


def _step(page: Page, facts: Facts) -> None:
    page.line(facts["title"], 2, "bold")
    page.pairs(
        (
            ("step", f"{facts['number']} of {facts['of']}, unit {facts['unit']}"),
            ("why", facts["why"]),
            ("caution", words.listed(facts["cautions"])),
            ("takes", f"{words.number(facts['minutes'])} minutes" if facts["minutes"] else ""),
        )
    )
    page.table(("does", "to"), [(row["does"], _action(row)) for row in facts["actions"]])
    picks = facts["picks"]
    if picks["lines"]:
        page.line("picks up", 2, QUIET)
    page.table(
        ("", "", ""),
        [(str(row["pieces"]), row["part"], words.listed(row["asked_by"], 4)) for row in picks["lines"]],
        indent=4,
        right=frozenset({0}),
    )
    page.pairs((("tools", words.listed(picks["tools"])), ("use", words.listed(picks["supplies"]))))


def _action(row: Facts) -> str:
    rest = (
        words.listed(row["to"], 12),
        row["says"],
        f"reads {words.listed(row['reads'])}" if row["reads"] else "",
        f"with {words.listed(row['using'])}" if row["using"] else "",
        f"gap {words.number(row['gap_mm'])} mm" if row["gap_mm"] is not None else "",
        f"{words.number(row['minutes'])} minutes" if row["minutes"] else "",
        f"{words.number(row['celsius'])} °C" if row["celsius"] else "",
        f"toward {row['toward']}" if row["toward"] else "",
        f"by {row['means']}" if row["means"] else "",
    )
    return "; ".join(text for text in rest if text)


def _paper(page: Page, facts: Facts) -> None:
    page.pairs(
        (
            ("title", facts["title"]),
            ("kind", f"{facts['kind']}, edition {facts['edition']}"),
            ("over", words.listed(facts["over"])),
            ("reason", facts["reason"]),
            ("says", f"{len(facts['parts'])} placed parts, {len(facts['steps'])} steps"),
            ("where", words.place(facts["where"])),
        )
    )
    for said in facts["said"]:
        tell_said(page, said)
    for ruling in facts["rulings"]:
        page.line(f"ruled right on {ruling['line']}: {ruling['reason']}", 2)


def _axis(page: Page, facts: Facts) -> None:
    page.pairs(
        (
            ("travel", words.length(facts["travel_mm"])),
            ("drawn at", words.length(facts["drawn_at_mm"])),
            ("way", words.listed(words.number(part) for part in facts["direction"])),
            ("moves", words.listed(facts["moves"])),
        )
    )


def _characteristic(page: Page, facts: Facts) -> None:
    page.pairs(
        (
            ("is", facts["read"]),
            ("of", words.listed(facts["of"], 12)),
            ("limit", f"{words.number(facts['limit'])} {facts['limit_unit']}"),
            ("reason", facts["reason"]),
            ("steps", _steps(facts)),
        )
    )


def _instrument(page: Page, facts: Facts) -> None:
    page.pairs(
        (
            ("is", facts["instrument"]),
            ("good to", f"± {words.number(facts['half_width_mm'])} mm"),
            ("reach", words.length(facts["reach_mm"]) if facts["reach_mm"] else ""),
            ("source", facts["source"]),
        )
    )


def _who_says(page: Page, facts: Facts) -> None:
    page.line("who says so", 2, "bold")
    page.pairs((("paper", facts["paper"] or "none named"), ("where", words.place(facts["where"]))), indent=4)
    for said in facts["said"]:
        tell_said(page, said, indent=4)
    for ruling in facts["rulings"]:
        page.line(f"ruling on {ruling['line']}: {ruling['take']} is right. {ruling['reason']}", 4)


def tell_said(page: Page, said: Facts, indent: int = 2) -> None:
    """One paper's word, with its reason and place."""
    # A whole line of keys is better read in its file; one key's value is worth its place here.
    read = f" {said['read']}" if said["read"] and not said["read"].startswith("{") else ""
    by = f" by {said['overruled_by']}" if said.get("overruled_by") else ""
    overruled = "" if said["stands"] else f" (overruled{by})"
    page.line(f"{said['paper']} {said['does']} {said['line']}{read}{overruled}", indent)
    page.pairs(
        (("reason", said["reason"]), ("page", said["page"]), ("where", words.place(said["where"]))),
        indent=indent + 2,
    )


_TELL: Mapping[str, Callable[[Page, Facts], None]] = {
    "unit": _unit,
    "placed part": _placed,
    "part type": _part_type,
    "profile": _profile,
    "joint": _joint,
    "screw": _screw,
    "step": _step,
    "paper": _paper,
    "axis": _axis,
    "characteristic": _characteristic,
    "instrument": _instrument,
}
