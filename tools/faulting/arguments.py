"""Faults in the call: every command and option of click's own tables, with values nobody means."""

from __future__ import annotations

from pathlib import Path
from random import Random

import click

from faulting.commands import Command, commands, example
from faulting.family import Verdict, Workplace, called, problem
from faulting.folders import texts, texts_lost
from faulting.outcome import Limits
from faulting.spoil import NASTY

SERVES_SECONDS = 5.0


def fault(workplace: Workplace, chance: Random) -> Verdict:
    """One command, its words changed in some way."""
    command = chance.choice(commands())
    with workplace.place() as place:
        words = _changed(example(command, place, workplace.templates, chance), command, place, chance)
        before = texts(place)
        limits = Limits(stop_after_seconds=SERVES_SECONDS) if command.serves else None
        outcome = called(words, place, limits)
        return Verdict(wrong=problem(outcome), lost=tuple(texts_lost(before, place)))


def _changed(words: list[str], command: Command, place: Path, chance: Random) -> list[str]:
    kept = len(command.words)
    for _ in range(chance.choice((1, 1, 2, 3))):
        way = chance.randrange(12)
        spot = chance.randrange(kept, len(words)) if len(words) > kept else kept
        if way in {0, 3, 4} and len(words) > kept:
            words[spot] = _nasty(place, chance) if way == 0 else _altered(words[spot], place, chance)
        elif way == 1 and len(words) > kept:
            del words[spot]
        elif way == 2:
            words.insert(spot, _nasty(place, chance))
        else:
            words += _option(chance.choice(command.options), place, chance) if command.options else []
    return words


def _option(option: click.Option, place: Path, chance: Random) -> list[str]:
    name = chance.choice((*option.opts, *option.secondary_opts))
    if name in {"--lan", "--open-browser"}:
        return []
    if option.is_flag:
        return [name]
    return [name, *(_value(option, place, chance) for _ in range(option.nargs))]


def _value(option: click.Option, place: Path, chance: Random) -> str:
    kind = option.type
    if chance.random() < 0.85:
        if isinstance(kind, click.Choice):
            return str(chance.choice(list(kind.choices)))
        if isinstance(kind, (click.FloatRange, click.IntRange)):
            edges = [edge for edge in (kind.min, kind.max) if edge is not None]
            if isinstance(kind, click.IntRange):
                return str(int(chance.choice([*edges, 0, 1, 7, 10 ** chance.randrange(12), -1])))
            usual = [*edges, 0, 1, 1e-9, 1e9, 7, 0.1, 12.5, 10 ** chance.uniform(-12, 12)]
            return str(chance.choice([*usual, "nan", "inf", "-inf", "1e308", "5e-324"]))
        if option.name in {"log", "out", "plot"}:
            return chance.choice(("made.svg", "made.pdf", "made.csv", "made", "x/made.png", "log.sqlite"))
    return _nasty(place, chance)


def _altered(word: str, place: Path, chance: Random) -> str:
    """A word of the example with a piece of it replaced or left out: near to what is right."""
    begin = chance.randrange(len(word) + 1)
    put = chance.choice(("", "", "0", "-", ",", ":", "=", "x", " ", "/", *NASTY[:20]))
    altered = f"{word[:begin]}{put}{word[begin + chance.randrange(3) :]}"
    return f"{place}{altered}" if altered.startswith("/") else altered


def _nasty(place: Path, chance: Random) -> str:
    """A nasty value that a terminal can hand over; what begins at the root begins in the place instead."""
    value = chance.choice(NASTY).replace("\x00", "").replace("\ud800", "\udcff")
    return f"{place}{value}" if value.startswith("/") else value
