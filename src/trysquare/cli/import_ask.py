"""Questions about shapes that could not be told for sure: quick to answer, and remembered."""

from __future__ import annotations

from collections.abc import Sequence

import click

from trysquare.cli import words
from trysquare.intake.rulings import OWN, Ruling
from trysquare.intake.taken_in import Question

STOP = "stop"


def asked(questions: Sequence[Question]) -> list[Ruling]:
    """Asks one after the other; "stop" leaves the rest open."""
    rulings: list[Ruling] = []
    for number, question in enumerate(questions, start=1):
        click.echo()
        pieces = words.count(question.pieces, "piece")
        head = f"{number} of {len(questions)}  {words.one_line(question.called)}, {pieces}"
        click.echo(click.style(head, bold=True))
        for line in question.evidence:
            click.echo(f"  {words.one_line(line)}")
        ruling = _printed(question) if question.about == "printed" else _designation(question)
        if ruling is None:
            break
        rulings.append(ruling)
    return rulings


def agreed(questions: Sequence[Question]) -> list[Ruling]:
    """What "yes" to every question says: the likeliest; nothing is said of parts that may be printed."""
    return [
        Ruling(shape=one.digest, says=one.choices[0], called=one.called)
        for one in questions
        if one.about == "designation"
    ]


def _designation(question: Question) -> Ruling | None:
    likely = question.choices[0]
    answer = _answer(f"Is it {likely} ({question.confidence:.0%})? yes, no, stop", ("yes", "no", STOP), "yes")
    if answer == STOP:
        return None
    said = likely if answer == "yes" else _another(question.choices[1:])
    return Ruling(shape=question.digest, says=said, called=question.called)


def _another(choices: Sequence[str]) -> str:
    if len(choices) < 2:
        return OWN
    for number, choice in enumerate(choices, start=1):
        click.echo(f"  {number}  {choice}")
    number = click.prompt("Which", type=click.IntRange(1, len(choices)), default=len(choices))
    return choices[int(number) - 1]


def _printed(question: Question) -> Ruling | None:
    answer = _answer("Is it printed? yes, no, stop", ("yes", "no", STOP), "yes")
    if answer == STOP:
        return None
    return Ruling(shape=question.digest, printed=answer == "yes", called=question.called)


def _answer(text: str, known: tuple[str, ...], default: str) -> str:
    while True:
        said = str(click.prompt(text, default=default)).strip().lower()
        for word in known:
            if said and word.startswith(said):
                return word
        click.echo(f"  Answer {words.listed(known)}.")
