"""Which pins of a motor's plug are one coil: by the ohm meter, against the pin map of its run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trysquare.fit.pin_maps import Wire, coil_of, connector, plug, swap_for_coils, swap_words
from trysquare.machine.values import CableRun, Machine
from trysquare.tuning.named_rows import Row, named_rows, refuse_faults
from trysquare.tuning.report import BAD, CANNOT_TELL, GOOD, Part, Table
from trysquare.tuning.wiring import RunFigures
from trysquare.tuning.wiring_places import listed

COIL_OHM = 100.0  # a coil of a small motor reads far less. Common practice, no source.
UNEQUAL = (
    0.2  # the two coils of a motor are wound alike; meter and leads allow this. Common practice, no source.
)
OPEN, OPEN_OHM = ("ol", "o.l", "o.l.", "open", "inf", "∞"), 1e9
EXAMPLE = "run,pin,other,ohm"


@dataclass(frozen=True, slots=True, kw_only=True)
class PairReading:
    """Resistance between two pins of a run's plug, the motor unplugged from the board."""

    run: str
    pin: str
    other: str
    ohm: float

    @property
    def conducts(self) -> bool:
        """Whether the two pins are ends of one coil."""
        return self.ohm <= COIL_OHM


def parse_pairs(text: str, file: str) -> list[PairReading]:
    """Readings by run and two pins. Raises ReadingErrors."""
    rows = named_rows(text, file, ("run", "pin", "other", "ohm"), EXAMPLE)
    found = []
    for row in rows:
        shown = row.cells.get("ohm", "").casefold()
        ohm = OPEN_OHM if shown in OPEN else row.number("ohm", most=OPEN_OHM)
        if ohm < 0:
            row.fault("ohm", "0 or more, or open", "Read it again, the motor unplugged from the board.")
        found.append(
            PairReading(
                run=_word(row, "run", "a run's label"),
                pin=_word(row, "pin", "a pin of it"),
                other=_word(row, "other", "another pin of it"),
                ohm=ohm,
            )
        )
    refuse_faults(rows)
    return found


def _word(row: Row, name: str, expected: str) -> str:
    text = row.cells.get(name, "")
    if not text:
        row.fault(name, expected, "Write it as the pin map shows it.")
    return text


def pin_of(run: CableRun, word: str) -> str:
    """The pin of a run that a word means: its whole name, its first or last word, or its number from the
    left as the map is seen; "" for none, or for several."""
    if word.isdecimal() and 1 <= int(word) <= len(run.pins) and word not in run.pins:
        return run.pins[int(word) - 1]
    low = word.casefold()
    close = [
        pin for pin in run.pins if low == pin.casefold() or low in (pin.casefold().split() or [""])
    ]  # fmt: skip
    return close[0] if len(close) == 1 else ""


def _at_board(run: CableRun, machine: Machine | None) -> dict[str, str]:
    """What the board has where each core goes: its own pin, else the core's name."""
    board = connector(machine, run) if machine is not None else ()
    cores = plug(run)
    return dict(zip(cores, board if len(board) == len(cores) else cores, strict=True))


def _swap(run: CableRun, board: dict[str, str], pins: tuple[str, str]) -> str:
    """Which two wires to swap when these two are one coil and the other two the other; "" when not told."""
    wires = [
        Wire(name=core, near=there, far="A" if core in pins else "B", number=number)
        for number, (core, there) in enumerate(board.items(), 1)
    ]
    swap = swap_for_coils(wires) if len(wires) == 4 else None
    return "" if swap is None else f" {swap_words(run, *swap, board=True)}"


def coils_part(
    figures: Sequence[RunFigures], readings: Sequence[PairReading], machine: Machine | None = None
) -> Part | None:
    """Each motor's pairs as read against the board's pin map, where `machine` has one, else against its own;
    None without readings."""
    if not readings:
        return None
    motors = {one.run.label.casefold(): one.run for one in figures if one.run.role == "motor"}
    bad: list[str] = []
    unsure: list[str] = []
    rows = []
    proved: dict[str, dict[str, float]] = {}
    for one in readings:
        run = motors.get(one.run.casefold())
        pins = ("", "") if run is None else (pin_of(run, one.pin), pin_of(run, one.other))
        if run is None or not all(pins) or pins[0] == pins[1]:
            unsure.append(f"'{one.run}', {one.pin} to {one.other}: no such two pins in the pin maps.")
            continue
        shown = "open" if one.ohm >= OPEN_OHM else f"{one.ohm:g} Ω"
        board = _at_board(run, machine)
        coils = coil_of(board[pins[0]]), coil_of(board[pins[1]])
        state = "as mapped"
        if not all(coils):
            state = "?"
            unsure.append(
                f"{run.label}: name its pins by their coils, A1 A2 B1 B2, so that pairs can be told."
            )
        elif one.conducts and coils[0] != coils[1]:
            state = "one coil"
            bad.append(
                f"{run.label}: {pins[0]} and {pins[1]} read {shown}, so they are one coil; the map has them "
                "in two. The motor would shake and not turn: move the pins so that each coil's two "
                f"stand where the board's map has one coil, power off.{_swap(run, board, pins)}"
            )
        elif not one.conducts and coils[0] == coils[1]:
            state = "no coil"
            bad.append(
                f"{run.label}: {pins[0]} and {pins[1]} read {shown}, and the map has them as one coil: "
                "swapped pins, or a broken wire. Find which pin conducts to which before you plug it in."
            )
        elif one.conducts:
            proved.setdefault(run.label, {})[coils[0]] = one.ohm
        rows.append((run.label, pins[0], pins[1], shown, state))
    for label, ohms in proved.items():
        if len(ohms) > 1 and max(ohms.values()) > (1 + UNEQUAL) * min(ohms.values()) + _LEADS_OHM:
            unsure.append(f"{label}: its coils read {', '.join(f'{ohm:g}' for ohm in ohms.values())} Ω; read "
                          "again with good contact.")  # fmt: skip
    if not bad:
        unsure += [
            f"{run.label}: both coils are not read yet." for run in motors.values()
            if len(proved.get(run.label, ())) < 2 and run.pins
        ]  # fmt: skip
    return Part(
        of="coil pairs",
        title="Coil pairs",
        verdict=BAD if bad else CANNOT_TELL if unsure else GOOD,
        says=listed([*bad, *unsure]) or ("Every motor's pairs are as its map has them.",),
        tables=(
            Table(
                title="Pin to pin, as read",
                columns=("run", "pin", "other", "read", "state"),
                rows=tuple(rows),
                right=frozenset({3}),
            ),
        ),
        notes=(
            (
                "Compare the map with the board's own, and mind from which side that is drawn: seen from the "
                "other half, left and right change over."
            ),
        ),
    )


_LEADS_OHM = 0.4  # of a multimeter's leads and touch. Common practice, no source.
