"""Each wire of a cable from pin to pin: a motor's coils, and what is plus, minus or signal at both ends.

A plug seen from its wires and the connector it goes into seen from where the plug comes have the same left:
that is the view in which everything here is counted. Source: common practice, no source.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from trysquare.ground.findings import Finding
from trysquare.machine.values import CableRun, Joint, Machine, PlacedPart

_COIL = re.compile(r"([A-Za-z])[0-9+−-]?|([0-9])[A-Za-z+−-]")
_VOLT = re.compile(r"(?<![\w.,])\+?(\d+(?:[.,]\d+)?)\s*V\b", re.IGNORECASE)
_WORDS = {
    "+": "plus", "v+": "plus", "vcc": "plus", "vdd": "plus", "vin": "plus", "plus": "plus",
    "-": "minus", "\u2212": "minus", "\u2013": "minus", "v-": "minus", "v\u2212": "minus", "gnd": "minus",
    "ground": "minus", "minus": "minus", "com": "minus",
    "signal": "signal", "sig": "signal", "s": "signal", "data": "signal", "out": "signal",
    "l": "live", "line": "live", "live": "live", "n": "neutral", "neutral": "neutral",
    "pe": "earth", "earth": "earth",
}  # fmt: skip
"""What a pin's first word says of it."""
_COLOURS = (
    "black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "purple", "grey", "gray", "white",
    "pink", "turquoise",
)  # fmt: skip


LOW_VOLT = 60.0  # direct current up to here; more is mains, which has no plus
_WORD = re.compile(r"[a-z]+")
_LIGHTS = frozenset({"led", "leds", "light", "lights", "lamp", "lamps"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """One core: its name, what the connector at either end has where it goes (else its own name), and the
    number of its pin from the left, seen from the wires, where it would be moved (0: not known)."""

    name: str
    near: str
    far: str
    number: int


def coil_of(pin: str) -> str:
    """The coil that a pin's name says: "A" of "A1 black", "1" of "1B"; "" when it says none."""
    found = _COIL.fullmatch(pin.split(maxsplit=1)[0]) if pin.split() else None
    return (found[1] or found[2]).upper() if found else ""


def carried(pin: str) -> tuple[str, float | None]:
    """What a pin's name says that it carries, and its volts where they are said: ("plus", 24) of "24 V red",
    ("minus", None) of "0 V" or "GND"; ("", None) when it says nothing."""
    volt = _VOLT.search(pin)
    if volt is not None:
        value = float(volt[1].replace(",", "."))
        return ("plus", value) if value > 0 else ("minus", None)
    words = pin.casefold().split()
    return _WORDS.get(words[0], "") if words else "", None


def pin_findings(machine: Machine) -> Iterator[Finding]:
    """Motors whose coils are split between the board's pairs; wires that end at a pin of other polarity,
    voltage or purpose; plugs with another number of pins than their connector."""
    for joint in machine.joints:
        run = joint.cable
        if run is None:
            continue
        yield from _counts(machine, joint, run)
        wires = wires_of(machine, run)
        if run.role == "motor":
            yield from _coils(machine, joint, run, wires)
        else:
            yield from _poles(machine, joint, run, wires)


def unproved(machine: Machine) -> tuple[CableRun, ...]:
    """Two-wire runs of low voltage to what minds plus and minus, of which the maps of both ends do not say
    them: supplies and fans by their role, lights by the name of the part at the far end. Heaters, switches
    and thermistors do not mind."""
    runs = (joint.cable for joint in machine.joints if joint.cable is not None)
    return tuple(
        run
        for run in runs
        if run.cores == 2 and run.volt <= LOW_VOLT and _minds(machine, run) and not _both_said(machine, run)
    )


def polarity_findings(machine: Machine) -> Iterator[Finding]:
    """One hint that names all runs whose polarity no map proves."""
    runs = unproved(machine)
    if runs:
        names = ", ".join(run.label or run.joint for run in runs)
        yield Finding(
            code="polarity-unproved",
            says=f"Plus and minus are not mapped at both ends of {names}: their polarity is not proved.",
            parts=tuple(dict.fromkeys(run.to_part for run in runs if run.to_part))[:4],
            joint=runs[0].joint,
            value=float(len(runs)),
            unit="runs",
            where=machine.joint[runs[0].joint].where,
        )


def _minds(machine: Machine, run: CableRun) -> bool:
    part = machine.part.get(run.to_part)
    words = set(_WORD.findall(part.type.name.casefold())) if part is not None else set()
    return run.role in ("supply", "fan") or bool(words & _LIGHTS)


def _both_said(machine: Machine, run: CableRun) -> bool:
    """Whether the run's own names or the connector say plus and minus at the `from` end, and the part's pins
    say them at the `to` end, joined to the cores by `to_pins` or by the colours of its leads."""
    load = {_colour(pin) for pin in connector(machine, run, far=True)}
    if not load or not (run.to_pins or all(_colour(core) and _colour(core) in load for core in run.pins)):
        return False
    wires = wires_of(machine, run)
    ends = ([carried(wire.near)[0] for wire in wires], [carried(wire.far)[0] for wire in wires])
    return all(sorted(said) == ["minus", "plus"] for said in ends)


def connector(machine: Machine, run: CableRun, *, far: bool = False) -> tuple[str, ...]:
    """Pins of the connector at the `from` or the `to` end, left to right seen from where the plug comes; ()
    where the part does not say."""
    part: PlacedPart | None = machine.part.get(run.to_part if far else run.from_part)
    point = (run.to_terminal if far else run.from_terminal).rpartition(":")[2]
    pins = part.type.pins.get(point, ()) if part is not None else ()
    return pins[::-1] if part is not None and part.type.pins_seen == "back" else pins


def plug(run: CableRun, *, far: bool = False) -> tuple[str, ...]:
    """Cores of the run at one end, left to right seen from the wires."""
    pins, seen = (run.to_pins, run.to_pins_seen) if far else (run.pins, run.pins_seen)
    return pins[::-1] if seen == "mating side" else pins


def wires_of(machine: Machine, run: CableRun) -> tuple[Wire, ...]:
    """Each core from end to end; none where nothing can be compared.

    At the `to` end a core is found by its place in `to_pins`, else by its colour among the part's leads. What
    an end does not say is taken from the core's own name.
    """
    cores, board = plug(run), connector(machine, run)
    there, load = plug(run, far=True), connector(machine, run, far=True)
    if not cores or (board and len(board) != len(cores)):
        return ()
    ends = {core: load[at] for at, core in enumerate(there)} if len(there) == len(load) else {}
    if not there and load:
        leads = {colour: pin for pin in load if (colour := _colour(pin))}
        ends = {core: leads.get(_colour(core), "") for core in cores if _colour(core)}
    if not board and not any(ends.values()):
        return ()
    return tuple(
        Wire(
            name=core,
            near=board[at] if board else core,
            far=ends.get(core, "") or core,
            number=at + 1 if board else there.index(core) + 1 if core in there else 0,
        )
        for at, core in enumerate(cores)
    )


def swap_for_coils(wires: Sequence[Wire]) -> tuple[Wire, Wire] | None:
    """The two wires to swap so that both wires of a coil stand where the other side has one coil; None when
    they do so already, when not all pins say their coil, or when one swap is not enough."""
    near = [coil_of(wire.near) for wire in wires]
    far = [coil_of(wire.far) for wire in wires]
    if not all((*near, *far)) or _pairs(near) == _pairs(far):
        return None
    for one, two in sorted(
        itertools.combinations(range(len(wires)), 2),
        key=lambda pair: (not _named_alike(wires, *pair), pair[1] - pair[0]),
    ):
        turned = list(far)
        turned[one], turned[two] = far[two], far[one]
        if _pairs(near) == _pairs(turned):
            return wires[one], wires[two]
    return None


def swap_words(run: CableRun, one: Wire, two: Wire, *, board: bool) -> str:
    """What to swap and how it is counted."""
    terminal = run.from_terminal if board else run.to_terminal
    if not one.number or not two.number:
        return f"Swap {one.name} and {two.name} at {terminal}, power off."
    first, last = sorted((one, two), key=lambda wire: wire.number)
    return (
        f"Swap {first.name} and {last.name} in the plug at {terminal}, power off: pins {first.number} and "
        f"{last.number} from the left, seen from the wires (from the right, looking into the plug)."
    )


def _named_alike(wires: Sequence[Wire], one: int, two: int) -> bool:
    """Whether a swap brings both wires to pins of their own first word: A1 to A1."""
    return all(
        wires[a].far.split()[:1] == wires[b].near.split()[:1] for a, b in ((one, two), (two, one))
    )  # fmt: skip


def _colour(pin: str) -> str:
    """Its last word when it is a colour, else ""."""
    last = pin.casefold().split()[-1]
    return last if last in _COLOURS else ""


def _pairs(coils: Sequence[str]) -> set[frozenset[int]]:
    return {frozenset(at for at, other in enumerate(coils) if other == coil) for coil in coils}


def _counts(machine: Machine, joint: Joint, run: CableRun) -> Iterator[Finding]:
    for far, terminal in ((False, run.from_terminal), (True, run.to_terminal)):
        cores, pins = plug(run, far=far), connector(machine, run, far=far)
        if cores and pins and len(cores) != len(pins):
            yield Finding(
                code="pin-count-differs",
                says=f"{run.label}: {len(cores)} pins are written for its plug, {terminal} has {len(pins)}.",
                parts=(run.to_part if far else run.from_part,),
                joint=joint.id,
                value=len(cores),
                limit=len(pins),
                unit="pins",
                where=joint.where,
            )


def _coils(machine: Machine, joint: Joint, run: CableRun, wires: Sequence[Wire]) -> Iterator[Finding]:
    swap = swap_for_coils(wires)
    if swap is None:
        return
    board = bool(connector(machine, run))
    split = next(
        (a, b)
        for a, b in itertools.combinations(wires, 2)
        if coil_of(a.near) == coil_of(b.near) and coil_of(a.far) != coil_of(b.far)
    )
    yield Finding(
        code="coil-pairs-crossed",
        says=f"{run.label}: {split[0].near} and {split[1].near} are one coil at {run.from_terminal}; the "
        f"wires there, {split[0].name} and {split[1].name}, come from two coils of the motor.",
        parts=(run.from_part, run.to_part),
        joint=joint.id,
        remedy=swap_words(run, *swap, board=board),
        where=joint.where,
    )


def _clash(wire: Wire) -> bool:
    (near, near_volt), (far, far_volt) = carried(wire.near), carried(wire.far)
    if not near or not far:
        return False
    return near != far or (near_volt is not None and far_volt is not None and near_volt != far_volt)


def _poles(machine: Machine, joint: Joint, run: CableRun, wires: Sequence[Wire]) -> Iterator[Finding]:
    wrong = [wire for wire in wires if _clash(wire)]
    if not wrong:
        return
    board = bool(connector(machine, run))
    told = "; ".join(f"{wire.near} goes to {wire.far}" for wire in wrong)
    swap = next(
        (
            (one, two)
            for one, two in itertools.combinations(wrong, 2)
            if not _clash(Wire(name="", near=one.near, far=two.far, number=0))
            and not _clash(Wire(name="", near=two.near, far=one.far, number=0))
        ),
        None,
    )
    yield Finding(
        code="pins-crossed",
        says=f"{run.label}, {run.from_terminal} to {run.to_terminal}: {told}.",
        parts=(run.from_part, run.to_part),
        joint=joint.id,
        remedy=swap_words(run, *swap, board=board)
        if swap
        else "Compare both ends pin by pin before it is connected, power off.",
        where=joint.where,
    )
