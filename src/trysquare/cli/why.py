"""`trysquare why`: what a finding means for the machine on the bench."""

from __future__ import annotations

import click

from trysquare.cli.answers import CLEAN, NotThere, print_json
from trysquare.cli.page import Page
from trysquare.cli.teaching import Taught, json_option
from trysquare.cli.words import one_line

WEIGHT_MEANS = {
    "stop": "stops the build until it is settled",
    "doubt": "could not be decided; a person must look",
    "note": "good to know; nothing is wrong",
}


@click.command(
    "why",
    cls=Taught,
    learns="Understand a finding: what it means, what follows on the bench, and what to do.",
    inputs=(("CODE", "a finding's code, as check prints it"),),
    examples=("trysquare why gap-in-stack", "trysquare why end-not-tapped --json"),
    exits=((0, "explained"), (2, "there is no such code; the nearest is named")),
)
@click.argument("code", metavar="CODE")
@json_option
def command(code: str, as_json: bool) -> int:
    """Explains one code."""
    from trysquare.ground.errors import nearest
    from trysquare.ground.findings import finding_kinds

    kinds = finding_kinds()
    kind = kinds.get(code.strip().casefold())
    if kind is None:
        raise NotThere(f"There is no finding '{one_line(code)}'. {nearest(code.strip().casefold(), kinds)}")
    if as_json:
        print_json(
            {
                "code": kind.code,
                "weight": str(kind.weight),
                "meaning": kind.meaning,
                "consequence": kind.consequence,
                "remedy": kind.remedy,
                "basis": kind.basis,
            }
        )
        return CLEAN
    page = Page()
    page.title(kind.code)
    page.line(kind.meaning)
    page.gap()
    page.pairs(
        (
            ("weight", WEIGHT_MEANS[kind.weight]),
            ("follows", kind.consequence),
            ("remedy", kind.remedy),
            ("basis", kind.basis),
        ),
        indent=0,
    )
    page.print()
    return CLEAN
