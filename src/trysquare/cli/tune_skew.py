"""`trysquare tune skew`: skew and scale from a test piece, and the test piece itself."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli import words
from trysquare.cli.answers import CLEAN, NotThere, print_json
from trysquare.cli.teaching import COMMON_EXITS, Taught, json_option
from trysquare.cli.tune_shared import (
    log_option,
    machine_options,
    machine_or_none,
    plot_option,
    unreadable,
)

if TYPE_CHECKING:
    from trysquare.machine.values import Machine
    from trysquare.tuning.skew_report import SkewCase
    from trysquare.tuning.values import Measured

_DEMO = "demo/larch/recordings/skew-piece.csv"
_OURS = "test piece"
POSITIVE = click.FloatRange(0, 1e4, min_open=True)


@click.command(
    "skew",
    cls=Taught,
    learns="Know skew and scale of each plane from a test piece, and whether to true the frame or correct "
    "numbers.",
    inputs=(
        ("READINGS", "CSV: plane, along, how, measured_mm; also nominal_mm, within_mm"),
        ("plane, along", "xy, xz, yz; x, y, z, or the diagonals: rising (low-low to high-high), falling"),
        ("how", "outside (jaws), inside (inner jaws), through (depth rod, by the hole)"),
        ("", "none with --reading (typed), or with --piece (writes the test piece and its sheet)"),
    ),
    examples=(
        "trysquare tune skew --piece build/piece.stl --plane xy",
        f"trysquare tune skew {_DEMO} --machine demo/larch",
        f"trysquare tune skew {_DEMO} --travel x=150:150.12 --json",
        'trysquare tune skew --reading "xy rising 100.09" --reading "xy falling 99.91" --reading "xy x 100"',
    ),
    exits=(
        (0, "square and to scale, to what was read; or the piece is written"),
        (1, "something is skew or off, or cannot be told"),
        *COMMON_EXITS,
    ),
)
@click.argument("readings", metavar="[READINGS]", required=False)
@machine_options
@click.option(
    "--reading",
    "typed",
    metavar="WORDS",
    multiple=True,
    help="A reading as typed: PLANE ALONG HOW MM, or MM/NOMINAL of a piece of your own.  [default: none]",
)
@click.option(
    "--travel",
    "travels",
    metavar="AXIS=MM:MM",
    multiple=True,
    help="Commanded and measured travel, by dial or rule: parts shrinkage from scale.  [default: none]",
)
@click.option(
    "--travel-within",
    metavar="MM",
    type=POSITIVE,
    default=0.02,
    help="How well --travel was measured, ±.  [default: 0.02]",
)
@click.option(
    "--limit", metavar="MM/100", type=POSITIVE, default=0.05, help="Skew allowed, mm in 100.  [default: 0.05]"
)
@click.option(
    "--scale-limit", metavar="PERCENT", type=POSITIVE, default=0.1, help="Scale allowed.  [default: 0.1]"
)
@click.option(
    "--piece",
    metavar="OUT",
    help="Write the test piece, .stl or .3mf, and beside it its sheet, .svg.  [default: none]",
)
@click.option(
    "--plane",
    type=click.Choice(["xy", "xz", "yz", "all"]),
    default="all",
    help="Which plane the piece lies in; all: three files.  [default: all]",
)
@click.option(
    "--size-mm",
    metavar="MM",
    type=click.FloatRange(60, 500),
    default=100.0,
    help="The piece across its flats, written or read.  [default: 100]",
)
@plot_option
@log_option
@json_option
def command(
    readings: str | None, folder: str | None, papers: tuple[str, ...], typed: tuple[str, ...],
    travels: tuple[str, ...], travel_within: float, limit: float, scale_limit: float, piece: str | None,
    plane: str, size_mm: float, plot: str | None, into_log: bool, as_json: bool,
) -> int:  # fmt: skip
    """Writes the piece, or reads its readings and judges."""
    from trysquare.cli.tune_report import finish
    from trysquare.ground.errors import ReadingError, ReadingErrors
    from trysquare.tuning.skew_report import read_case, skew_report

    _check_call(readings, typed, piece, plot, into_log=into_log)
    if piece is not None:
        return _write_piece(Path(piece), plane, size_mm, as_json=as_json)
    try:
        machine = machine_or_none(folder, papers, into_log=into_log)
        case = _case(readings, typed, size_mm, limit, scale_limit, machine, folder)
        own = _travels(travels, travel_within)
        case = replace(case, own_scale=own)
        found = read_case(case)
        report = skew_report(case, found)
        drawing = None
        if plot is not None:
            from trysquare.publish.skew_plot import skew_plot

            drawing = skew_plot(found)
        return finish(
            report, machine=machine, folder=folder, as_json=as_json, into_log=into_log,
            files=[Path(readings)] if readings else [], plot=plot, drawing=drawing,
            inputs={"readings": len(case.readings), "file": readings, "size_mm": size_mm},
        )  # fmt: skip
    except (ReadingError, ReadingErrors) as error:
        return unreadable(error, readings or "what was typed", as_json=as_json)
    except ValueError as error:
        raise click.UsageError(words.sentence(error)) from error


def _check_call(
    readings: str | None, typed: tuple[str, ...], piece: str | None, plot: str | None, *, into_log: bool
) -> None:
    """Raises UsageError for what does not go together."""
    if piece is not None and (readings or typed or plot or into_log):
        raise click.UsageError("--piece writes the test piece and reads nothing: give it alone.")
    if piece is None and bool(readings) == bool(typed):
        raise click.UsageError("Give a file of READINGS, or --reading, or --piece to make the test piece.")


def _case(
    readings: str | None, typed: tuple[str, ...], size_mm: float, limit: float, scale_limit: float,
    machine: Machine | None, folder: str | None,
) -> SkewCase:  # fmt: skip
    from trysquare.cli.table_in import read_table
    from trysquare.tuning.hole_slack import hole_slacks
    from trysquare.tuning.skew import PLANES
    from trysquare.tuning.skew_causes import squareness_of_plane
    from trysquare.tuning.skew_file import parse_piece, parse_typed
    from trysquare.tuning.skew_report import SkewCase

    if readings:
        read = parse_piece(read_table(readings), readings, size_mm)
    else:
        read = parse_typed(typed, "--reading", size_mm)
    return SkewCase(
        readings=read,
        limit_mm_per_100=limit,
        scale_limit_percent=scale_limit,
        squareness={plane: squareness_of_plane(machine, plane) for plane in PLANES},
        slacks=() if machine is None else hole_slacks(machine),
        frame=words.quoted(folder) if folder else "",
    )


def _travels(texts: tuple[str, ...], within_mm: float) -> dict[str, Measured]:
    """Scales of axes by --travel; raises UsageError."""
    from trysquare.tuning.values import Measured

    found = {}
    for text in texts:
        axis, _, figures = text.partition("=")
        commanded, _, measured = figures.partition(":")
        try:
            asked, went = float(commanded), float(measured)
        except ValueError:
            asked = went = math.nan
        if axis not in ("x", "y", "z") or not (asked > 0 and 0.5 < went / asked < 2):
            raise click.UsageError(
                f"--travel read '{words.one_line(text)}'; expected an axis and two lengths: x=150:150.12."
            )
        found[axis] = Measured(
            value=went / asked, standard_uncertainty=within_mm / math.sqrt(3) / asked, unit="", basis="travel"
        )
    return found


def _write_piece(out: Path, plane: str, size_mm: float, *, as_json: bool) -> int:
    """The piece's files and sheets, one of each for every plane."""
    from trysquare.cli.files_out import look_at, write
    from trysquare.cli.page import Page
    from trysquare.publish.mesh_files import stl_bytes, threemf_bytes, threemf_title
    from trysquare.publish.skew_sheet import skew_sheet
    from trysquare.tuning.skew import PLANES
    from trysquare.tuning.skew_piece import piece_body

    ending = out.suffix.lower()
    if ending not in (".stl", ".3mf"):
        raise NotThere(
            f"{words.one_line(out)} would hold a solid. Name it {out.stem or 'piece'}.stl or .3mf."
        )
    planes = PLANES if plane == "all" else (plane,)
    made = []
    for one in planes:
        file = out if plane != "all" else out.with_name(f"{out.stem}-{one}{out.suffix}")
        sheet = file.with_suffix(".svg")
        title = f"{_OURS} {one} {size_mm:g} mm"
        # Another's solid of the same name is not ours to write over; ours begins with its title.
        look_at(file, _OURS.encode() if ending == ".stl" else b"PK", "test piece")
        if ending == ".3mf" and file.is_file() and not threemf_title(file.read_bytes()).startswith(_OURS):
            raise NotThere(f"{words.one_line(file)} is there and is no test piece. Choose another name.")
        look_at(sheet, b"<svg", "SVG", ".svg")
        body = piece_body(one, size_mm)
        content = stl_bytes(body, title) if ending == ".stl" else threemf_bytes({title: body})
        made.append((one, file, sheet, content, skew_sheet(one, size_mm), body.volume()))
    for _, file, sheet, content, drawing, _ in made:
        write(file, content)
        write(sheet, drawing.encode())
    facts: dict[str, Any] = {
        "what": "skew",
        "pieces": [
            {"plane": one, "size_mm": size_mm, "file": str(file), "sheet": str(sheet),
             "volume_mm3": round(volume, 1)}
            for one, file, sheet, _, _, volume in made
        ],
    }  # fmt: skip
    if as_json:
        print_json(facts)
        return CLEAN
    page = Page()
    page.title("Test piece for skew and scale", f"{size_mm:g} mm across its flats")
    for one in facts["pieces"]:
        page.line(
            f"{words.one_line(one['file'])}: plane {one['plane']}, {one['volume_mm3'] / 1000:.0f} cm³; "
            f"what to read stands in {words.one_line(one['sheet'])}."
        )
    page.gap()
    page.line(
        "Make it as it stands in the file, never turned; let it cool; read it; write the readings as CSV."
    )
    page.print()
    return CLEAN
