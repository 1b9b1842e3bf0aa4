"""What readings say of a machine, as text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from trysquare.cli import words
from trysquare.cli.page import QUIET, STRONG, Page

MARKS = {"good": "bold green", "bad": "bold red", "cannot tell": "bold yellow", "not read": "dim"}


def tell(facts: dict[str, Any]) -> None:
    """Verdicts first, then what is doubtful, what to do, and what to read next."""
    page = Page()
    page.title(facts["machine"], facts["folder"])
    if facts["step"]:
        page.line(f"As at step {facts['step']}; {words.count(facts['readings_counted'], 'reading')} count.")
    _tell_verdicts(page, facts["characteristics"])
    _tell_doubts(page, facts)
    _tell_advice(page, facts)
    _tell_next(page, facts["next"])
    for name, one in facts["own_errors"].items():
        page.line(
            f"{name}: its own error is {one['value_mm']:+.3f} ± {one['expanded_mm']:.3f} at full reach.",
            style=QUIET,
        )
    for sentence in facts["unseen"][:6]:
        page.line(sentence[0].upper() + sentence[1:] + ".", style=QUIET)
    if len(facts["unseen"]) > 6:
        page.line(f"{len(facts['unseen']) - 6} more of the kind in --json.", style=QUIET)
    page.print()


def _tell_verdicts(page: Page, characteristics: Sequence[dict[str, Any]]) -> None:
    for verdict in ("bad", "cannot tell", "good"):
        mine = [one for one in characteristics if one["verdict"] == verdict]
        if mine:
            page.heading(verdict.capitalize(), MARKS[verdict])
        for one in mine:
            worst = one["components"][one["worst"]]
            page.line(
                f"{one['characteristic']}  {worst['value']:+.3f} ± {worst['expanded']:.3f} {one['unit']}, "
                f"limit {words.number(one['limit'])}",
                indent=2,
                style=STRONG if verdict == "bad" else "",
            )
            page.line(worst["says"], indent=5, style=QUIET)
            if worst["meaning"] and verdict != "good":
                page.line(f"{worst['meaning']}.", indent=5, style=QUIET)
    unread = [one["characteristic"] for one in characteristics if one["verdict"] == "not read"]
    if unread:
        page.heading("Not read", MARKS["not read"])
        page.line(words.listed(unread), indent=2, style=QUIET)


def _tell_doubts(page: Page, facts: dict[str, Any]) -> None:
    doubtful = [one for one in facts["readings"] if one["blunder"] or one["doubt"]]
    if doubtful:
        page.heading("Readings to be asked about", "bold yellow")
    for one in doubtful:
        page.line(_spot(one), indent=2, style=STRONG)
        if one["blunder"]:
            page.line(
                f"{one['what']}: read {one['value']:g}, the others say {one['blunder']['expected']:.2f} ± "
                f"{one['blunder']['expanded']:.2f} {one['unit']}; it is set aside.",
                indent=5,
            )
        else:
            page.line(one["doubt"] if one["causes"] else f"{one['doubt']} {one['remedy']}", indent=5)
        for cause in one["causes"][:2]:
            page.line(f"Likely: {cause['says']}.", indent=5)


def _spot(one: dict[str, Any]) -> str:
    return words.place(one["where"]) or words.listed(one["reading"])


def _tell_advice(page: Page, facts: dict[str, Any]) -> None:
    advice = facts["advice"]
    if advice is None and not facts["by_hand"]:
        return
    page.heading("What to do")
    for one in facts["by_hand"]:
        page.line(f"{one['characteristic']}: {one['says'][0].lower()}{one['says'][1:]}.", indent=2)
    if advice is None:
        return
    number = 0
    for sentence in [f"Loosen {one}" for one in advice["loosen"]] + [one["says"] for one in advice["pushes"]]:
        number += 1
        page.line(f"{number}  {sentence[0].upper()}{sentence[1:]}.", indent=2)
    for one in advice["expects"]:
        number += 1
        page.line(
            f"{number}  Read {one['what']} again: expect {one['value']:.2f} ± {one['expanded']:.2f} "
            f"{one['unit']}.",
            indent=2,
        )
    if not advice["enough"]:
        page.line(
            "That does not bring everything within its limit; read again after it.", indent=2, style=QUIET
        )
    if not advice["within_play"]:
        page.line("It is more than the joints' play: loosen them a turn further.", indent=2, style=QUIET)


def _tell_next(page: Page, coming: dict[str, Any]) -> None:
    if not coming["owned"] and not coming["borrowed"] and not coming["direct"]:
        return
    useful = [one for one in coming["owned"] if one["decides"] >= 0.05]
    page.heading("Worth reading next")
    for one in coming["direct"]:
        page.line(one["says"], indent=2)
        if one["chance"] is not None:
            page.line(f"settles it with {one['chance']:.0%}", indent=5, style=QUIET)
    if not coming["owned"] and not coming["borrowed"]:
        return
    for one in useful[:3]:
        chances = "; ".join(
            f"{name} {chance:.0%}" for name, chance in one["chances"].items() if chance >= 0.05
        )
        page.line(one["says"][0].upper() + one["says"][1:], indent=2)
        page.line(f"settles {chances}", indent=5, style=QUIET)
    if not useful and not coming["direct"]:
        page.line("No single reading with what you own settles what is open.", indent=2)
        for one in coming["borrowed"][:2]:
            page.line(f"This would: {one['says']}", indent=2)
        if not coming["borrowed"] and coming["owned"]:
            page.line(f"It narrows most: {coming['owned'][0]['says']}", indent=2)


def tell_before(page: Page, facts: dict[str, Any]) -> None:
    """The tolerance stack: how true it comes, and which cuts matter."""
    page.heading("Before the build")
    page.line(
        f"Of {facts['draws']:,} frames from such saws and joints {facts['can_be_trued']:.1%} can be trued "
        f"within the joints' play; untouched {facts['all_as_it_comes']:.1%} would be true.".replace(",", " "),
        indent=2,
    )
    page.table(
        ("characteristic", "± U as it comes", "limit", "within", "what matters most"),
        [
            (
                f"{one['characteristic']}: {one['says']}",
                f"{one['expanded']:.2f}",
                f"{words.number(one['limit'])} {one['unit']}",
                f"{one['as_it_comes']:.0%}",
                "; ".join(
                    f"{each['source']} ({each['kind']}) {each['share']:.0%}"
                    for each in one["contributions"][:2]
                ),
            )
            for one in _one_each(facts["components"])
        ],
        right=frozenset({1, 3}),
    )
    page.heading("Do your instruments suffice?")
    told: set[str] = set()
    for one in facts["suffices"]:
        if one["characteristic"] not in told:
            told.add(one["characteristic"])
            page.line(
                f"{one['characteristic']}: {one['instrument']}, to ± {one['expanded']:.3f}, decides "
                f"{one['chance']:.0%} of such frames ({one['how']})",
                indent=2,
            )


def _one_each(components: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Of each characteristic the component with the widest spread."""
    widest: dict[str, dict[str, Any]] = {}
    for one in components:
        known = widest.get(one["characteristic"])
        if known is None or one["expanded"] > known["expanded"]:
            widest[one["characteristic"]] = one
    return list(widest.values())


def tell_hot(page: Page, facts: dict[str, Any]) -> None:
    """What changes between cold and hot."""
    page.heading(f"From {words.number(facts['cold_celsius'])} to {words.number(facts['hot_celsius'])} °C")
    for one in facts["changes"]:
        page.line(f"{one['says']}.", indent=2)
    if not facts["changes"]:
        page.line("Nothing changes that anybody could read.", indent=2)
    for sentence in facts["advice"]:
        page.line(sentence, indent=2, style=QUIET)


def tell_rectangle(facts: dict[str, Any]) -> None:
    """What two diagonals tell."""
    page = Page()
    lean = facts["lean_mm_per_100"]
    page.line(
        f"{lean['verdict'].capitalize()}: out of square by {abs(lean['value']):.2f} ± {lean['expanded']:.2f} "
        f"mm per 100 mm, limit {words.number(lean['limit'])}; {abs(facts['across_mm']):.2f} mm in all.",
        style=MARKS[lean["verdict"]],
    )
    page.line("Corners in order A, B, C, D; the first diagonal is A–C.", style=QUIET)
    if lean["verdict"] != "good":
        page.line(facts["says"])
    if facts["decides"]:
        page.line(facts["decides"])
    if abs(facts["misfit_mm"]) > facts["misfit_expanded_mm"]:
        page.line(
            f"Together the diagonals are {abs(facts['misfit_mm']):.1f} mm too "
            f"{'long' if facts['misfit_mm'] > 0 else 'short'} for these sides: measure the sides.",
        )
    page.print()
