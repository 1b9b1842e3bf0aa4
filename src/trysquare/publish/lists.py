"""Parts, tools and consumables as plain text, for the description under a film."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby

from trysquare.machine.values import Kind, Machine
from trysquare.publish.chapters import plain_title
from trysquare.stock.key import sorts_of
from trysquare.stock.letters import KeptLetter
from trysquare.stock.need import NeedLine, need

KIND_TITLES: Mapping[Kind, str] = {
    Kind.MEMBER: "Members",
    Kind.PLATE: "Plates",
    Kind.PRINTED: "Printed parts",
    Kind.BOUGHT: "Bought parts",
    Kind.FASTENER: "Fasteners",
    Kind.GUIDE: "Rails and blocks",
    Kind.DRIVE: "Belts, pulleys, lead screws",
    Kind.WIRE: "Wires",
    Kind.CONSUMABLE: "Used up",
    Kind.JIG: "Jigs",
}
NOTHING = "- none\n"


def description_lists(machine: Machine, kept: Iterable[KeptLetter] = ()) -> str:
    """Three lists under one another; counts first, letters as on the labels."""
    whole = need(machine)
    letter = {part: sort.letter for sort in sorts_of(machine, kept, whole) for part in sort.parts}
    parts = "".join(
        f"\n{KIND_TITLES[kind]}\n" + "".join(_part(line, letter) for line in lines)
        for kind, lines in groupby(whole.lines, key=lambda line: line.kind)
    )
    tools = "".join(f"- {plain_title(line.tool.name)}\n" for line in whole.tools)
    supplies = "".join(f"- {plain_title(line.name)}\n" for line in whole.supplies)
    return (
        f"{plain_title(machine.name)}\n\nPARTS\n{parts or NOTHING}"
        f"\nTOOLS\n{tools or NOTHING}\nUSED UP\n{supplies or NOTHING}"
    )


def _part(line: NeedLine, letter: Mapping[str, str]) -> str:
    return f"- {' '.join(word for word in _words(line, letter) if word)}\n"


def _words(line: NeedLine, letter: Mapping[str, str]) -> Iterator[str]:
    if line.cuts_mm:
        yield f"{line.length_mm / 1000:.2f} m"
    else:
        yield f"{line.pieces} ×"
    name = plain_title(line.name)
    yield name
    if line.part != line.name and line.part.replace("-", " ").casefold() != name.casefold():
        yield f"({plain_title(line.part)})"
    if letter.get(line.part):
        yield f"[{letter[line.part]}]"
    if line.aliases:
        yield f"also called {', '.join(plain_title(alias) for alias in line.aliases)}"
