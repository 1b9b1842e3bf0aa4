"""Why one thing must come before another: the chain of solids, slot ends, key lines, joints and readings.

The question is turned round: is there an order with the second before the first? The machine is taken
apart under that wish. If it comes apart, nothing forces the two; if it gets stuck, what holds back
what leads from the first to the second.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trysquare.ground.errors import ReadingError, Where, nearest
from trysquare.machine.values import Machine
from trysquare.sequence.hanging import joined_parts
from trysquare.sequence.operations import Operation, Work, work_of
from trysquare.sequence.reach import Reach
from trysquare.sequence.undoing import Obstacle, TakenApart, take_apart


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """`first` comes before `after`, and why."""

    first: str
    after: str
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Because:
    """`must`: no order has `b` before `a`. `chain` leads from a to b; empty when they are free, or when
    no order exists at all (`says` tells which)."""

    a: str
    b: str
    must: bool
    chain: tuple[Link, ...]
    says: str


def why_before(machine: Machine, a: str, b: str, *, reach: Reach | None = None) -> Because:
    """Whether and why `a` must come before `b`.

    Each is a placed part (meant is when it is joined to the work), a joint (its first action: its nuts,
    inserts or screws), a piece of a joint, a characteristic (its reading), or a verb and a joint:
    "tighten frame/corners". An unknown name raises ReadingError.
    """
    work = work_of(machine, reach)
    firsts, seconds = _meant(work, a), _meant(work, b)
    if a == b or {one.number for one in firsts} == {one.number for one in seconds}:
        return Because(a=a, b=b, must=False, chain=(), says=f"{a} and {b} are done at once.")
    if take_apart(work).left:
        return Because(
            a=a, b=b, must=False, chain=(), says="This machine has no order at all; ask for one to see why."
        )
    apart: TakenApart | None = None
    second = seconds[0]
    for second in seconds:
        wish = [(second.number, first.number) for first in firsts if first is not second]
        apart = take_apart(work, also=wish)
        if not apart.left:
            return Because(
                a=a,
                b=b,
                must=False,
                chain=(),
                says=f"{a} need not come before {b}: there are orders either way.",
            )
    assert apart is not None  # there is at least one operation behind every name
    chain = _chain(work, apart, [one.number for one in firsts], second.number)
    says = f"{a} must come before {b}."
    return Because(a=a, b=b, must=True, chain=chain, says=says)


def _meant(work: Work, name: str) -> list[Operation]:
    verb, _, rest = name.partition(" ")
    if rest:
        found = [one for one in work.operations if one.verb == verb and one.of == rest]
        if found:
            return found[-1:] if verb == "tighten" else found
    if name in work.machine.part and not work.machine.part[name].joint:
        joins = _joins_of(work, name)
        return joins or [one for one in work.operations if one.number == work.bringer.get(name)]
    if name in work.bringer:
        return [work.operations[work.bringer[name]]]
    found = [one for one in work.operations if one.of == name]
    if found:
        return found[:1]
    known = [*(part.id for part in work.machine.placed if not part.joint), *work.machine.joint]
    raise ReadingError(
        where=Where(file="--why"),
        read=name,
        expected="a placed part, a joint, a characteristic, or a verb and a joint",
        remedy=nearest(name, known),
    )


def _joins_of(work: Work, part: str) -> list[Operation]:
    """The operations that can be the first to join a part to others: one for each of its joints."""
    found: dict[str, Operation] = {}
    for one in work.operations:
        if part in joined_parts(work, one) and one.of not in found:
            found[one.of] = one
    return list(found.values())


def _chain(work: Work, apart: TakenApart, firsts: Sequence[int], second: int) -> tuple[Link, ...]:
    """The shortest chain from one of the first operations to the second through what is left over."""
    came: dict[int, tuple[int, str]] = {}
    todo = [number for number in firsts if number in apart.left]
    seen = set(todo)
    while todo:
        number = todo.pop(0)
        if number == second:
            break
        for after, why in _holds_back(work, apart, number):
            if after not in seen and after in apart.left:
                seen.add(after)
                came[after] = (number, why)
                todo.append(after)
    links: list[Link] = []
    at = second
    while at in came:
        first, why = came[at]
        links.append(Link(first=work.operations[first].name, after=work.operations[at].name, because=why))
        at = first
    return tuple(reversed(links))


def _holds_back(work: Work, apart: TakenApart, number: int) -> list[tuple[int, str]]:
    """What must come after an operation, with the reason, among what is left over."""
    found = [
        (after, needs[number])
        for after, needs in work.needs.items()
        if number in needs and after in apart.left
    ]
    obstacles = apart.left.get(number, ())
    for obstacle in obstacles:
        if obstacle.by in work.bringer:
            found.append((work.bringer[obstacle.by], closed(obstacles)))
            # A part may lie ready for long: it is in the way once it is joined.
            if not work.machine.part[obstacle.by].joint:
                found += [(one.number, closed(obstacles)) for one in _joins_of(work, obstacle.by)]
    return found


def closed(obstacles: Sequence[Obstacle]) -> str:
    """What closes every choice, in words."""
    ways: dict[str, dict[str, None]] = {}
    for one in obstacles:
        ways.setdefault(one.choice, {})[one.by] = None
    few = list(ways.items())[:4]
    told = "; ".join(f"{choice} stands {', '.join(list(by)[:3])}" for choice, by in few)
    more = f"; {len(ways) - 4} more" if len(ways) > 4 else ""
    return f"afterwards there is no {obstacles[0].asks.removeprefix('a ').removeprefix('an ')}: {told}{more}"
