"""`trysquare draw`: one step's picture as SVG or PNG."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, UNREADABLE, NotThere, print_json, tell_problems
from trysquare.cli.page import QUIET, STRONG, Page
from trysquare.cli.teaching import COMMON_EXITS, FOLDER_INPUT, Taught, folder_argument, json_option

if TYPE_CHECKING:
    from trysquare.publish.known import Known
    from trysquare.publish.step_picture import Picture


@click.command(
    "draw",
    cls=Taught,
    learns="See one step: what comes in and along which way, which screws turn, what is set and read.",
    inputs=(FOLDER_INPUT, ("STEP", "a step's id or number; left out: the finished machine")),
    examples=(
        "trysquare draw demo/larch y-rails --out build/y-rails.svg",
        "trysquare draw demo/larch 22 --width-px 2000 --out build/x-beam.png",
        "trysquare draw demo/larch --out build/larch.svg",
    ),
    exits=((0, "the picture is written"), (1, "the step has nothing to draw"), *COMMON_EXITS),
)
@folder_argument
@click.argument("step", metavar="[STEP]", required=False)
@click.option(
    "--out",
    metavar="FILE",
    required=True,
    help="A name ending in .svg or .png.  [default: none, it has to be said]",
)
@click.option(
    "--width-px", type=click.IntRange(100, 8000), default=1600, metavar="PIXELS",
    help="How wide a PNG is.  [default: 1600 pixels]",
)  # fmt: skip
@click.option(
    "--width-mm", type=click.FloatRange(60, 600), default=160.0, metavar="LENGTH",
    help="How wide the picture is on paper; lines and letters keep their size.  [default: 160 mm]",
)  # fmt: skip
@click.option("--clear", is_flag=True, help="A PNG without paper behind it.  [default: white]")
@json_option
def command(
    folder: str, papers: tuple[str, ...], step: str | None, out: str, width_px: int, width_mm: float,
    clear: bool, as_json: bool,
) -> int:  # fmt: skip
    """Draws one picture and writes it."""
    from trysquare.cli.book_facts import read_known
    from trysquare.cli.files_out import look_at, write
    from trysquare.ground.errors import ReadingErrors
    from trysquare.publish.picture_png import png_of

    suffix = Path(out).suffix.casefold()
    if suffix not in (".svg", ".png"):
        raise click.UsageError("--out names a file that ends in .svg or .png.")
    look_at(Path(out), b"<svg" if suffix == ".svg" else b"\x89PNG", suffix[1:].upper())
    try:
        known, _ = read_known(folder, papers, use_cache=True, with_findings=False)
    except ReadingErrors as errors:
        tell_problems(errors, folder, as_json=as_json)
        return UNREADABLE
    picture, name = _picture(known, step, width_mm)
    facts: dict[str, Any] = {"folder": folder, "machine": known.machine.name, "step": name, "out": out}
    if picture is None:
        facts |= {"drawn": False, "told": ["nothing of it is there yet, or nothing has a shape"]}
    else:
        svg = picture.svg
        content = (
            svg.encode()
            if suffix == ".svg"
            else png_of(svg, picture.width_mm, picture.height_mm, width_px, clear=clear)
        )
        write(Path(out), content)
        facts |= {
            "drawn": True,
            "width_mm": picture.width_mm,
            "height_mm": picture.height_mm,
            "bytes": len(content),
            "says": picture.says,
            "looks_along": [round(part, 3) for part in picture.view.direction],
            "shown": {
                part: {"share": round(share, 3), "how": how} for part, (share, how) in picture.shares.items()
            },
            "told": list(picture.told),
        }
    if as_json:
        print_json(facts)
    else:
        _tell(facts)
    return CLEAN if picture is not None else 1


def _picture(known: Known, step: str | None, width_mm: float) -> tuple[Picture | None, str]:
    """The picture asked for, seen as in the book: steps of one unit that follow each other share a view."""
    from trysquare.ground.errors import nearest
    from trysquare.publish.step_picture import machine_picture, step_picture
    from trysquare.publish.step_scene import StepScenes
    from trysquare.publish.step_view import view_of_step

    scenes = StepScenes(known)
    if step is None:
        return machine_picture(known, scenes.finished()), ""
    ids = [one.id for one in known.machine.steps]
    name = (
        step if step in ids else ids[int(step) - 1] if step.isdecimal() and 0 < int(step) <= len(ids) else ""
    )
    if not name:
        raise NotThere(f"There is no step '{words.one_line(step)}'. {nearest(step, ids)}")
    wanted = next(one for one in known.machine.steps if one.id == name)
    scene, previous = view_of_step(known, scenes, name)
    height_mm = width_mm * 0.85
    return step_picture(known, wanted, scene, previous, width_mm=width_mm, height_mm=height_mm), name


def _tell(facts: dict[str, Any]) -> None:
    page = Page()
    page.title(f"{facts['machine']} · {facts['step'] or 'finished'}", facts["folder"])
    page.gap()
    if facts["drawn"]:
        size = f"{words.number(facts['width_mm'])} × {words.number(facts['height_mm'])} mm"
        page.line(f"{facts['out']}: {size}, {facts['bytes'] / 1000:.0f} kB", style=STRONG)
        page.line(facts["says"])
        through = [part for part, one in facts["shown"].items() if one["how"] == "through"]
        if through:
            page.line(f"drawn in dashes through what hides it: {words.listed(through, 6)}", style=QUIET)
    for told in facts["told"]:
        page.line(told, style=QUIET)
    page.print()
