"""Pictures of things against their limits: a bar for each, the worst first, and the limit as a line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trysquare.machine.values import Machine
from trysquare.publish.chart import (
    NARROW_LETTERS_MM,
    NARROW_MM,
    WIDTH_MM,
    Plot,
    letters_mm,
    svg_page,
)
from trysquare.publish.picture_svg import FONT, escaped
from trysquare.tuning.maintenance import shares
from trysquare.tuning.maintenance_report import MaintenanceCase, counted_from
from trysquare.tuning.wiring import DROP_LIMIT, figures_of, runs_of
from trysquare.tuning.wiring_circuits import heater_circuits, supplies_of
from trysquare.tuning.wiring_report import WiringAsked

MOST_BARS = 14  # of one group; the others are nearer to nothing
MOST_NARROW_BARS = 8  # on the narrow sheet, where each takes two lines
ROW_MM, TITLE_MM, GAP_MM = 5.2, 8.0, 4.0
NARROW_ROW_MM = 9.4
NAME_MM, SAYS_MM = 60.0, 46.0  # left of the bars, right of them
SHOWN = 1.3  # times the limit, where a bar is cut off
_STYLE = (
    ".bar{fill:#b9b6af}.over{fill:#1c1b19}.limit{stroke:#1c1b19;stroke-width:.35}"
    ".edge{stroke:#fff;stroke-width:1.1}"  # paper beside the limit's line: seen on a dark bar, too
    ".line{stroke:#5b5955;stroke-width:.1}path{fill:none}"
    f"text{{font-family:{FONT};font-weight:500;fill:#1c1b19}}.small{{fill:#5b5955}}.name{{font-weight:700}}"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One thing: its name, what it comes to as a part of its limit (1: at the limit), and that in words."""

    name: str
    part: float
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Bars:
    """Bars of one kind under a title; `limit`: what the line stands for."""

    title: str
    limit: str
    bars: tuple[Bar, ...]


def limits_page(title: str, says: str, groups: Sequence[Bars]) -> Plot | None:
    """The groups beneath each other; None when there is no bar. `says` is read out for who cannot see it."""
    sheets = []
    for width, draw in ((WIDTH_MM, _group), (NARROW_MM, _narrow_group)):
        parts: list[str] = []
        y = 2.0
        for group in groups:
            if group.bars:
                drawn, y = draw(group, y)
                parts += drawn
                y += GAP_MM
        if not parts:
            return None
        sheets.append(svg_page(title, says, width, y, _STYLE, parts))
    return Plot(wide=sheets[0], narrow=sheets[1])


def _group(group: Bars, top: float) -> tuple[list[str], float]:
    ordered = sorted(group.bars, key=lambda one: -one.part)
    shown, left = ordered[:MOST_BARS], len(ordered) - MOST_BARS
    room = WIDTH_MM - NAME_MM - SAYS_MM
    at_limit = NAME_MM + room / SHOWN
    parts = [_words(2, top + 4.2, group.title, 3.4, "start", "name")]
    parts.append(_words(at_limit, top + 4.2, group.limit, 2.6, "middle", "small"))
    y = top + TITLE_MM
    for one in shown:
        wide = room * min(max(one.part, 0.0), SHOWN) / SHOWN
        kind = "over" if one.part > 1 else "bar"
        parts.append(_words(NAME_MM - 1.5, y + 3.2, _short(one.name), 2.6, "end"))
        parts.append(
            f'<rect class="{kind}" x="{NAME_MM:g}" y="{y + 0.8:.2f}" width="{wide:.2f}" height="3.2"/>'
        )
        parts.append(_words(WIDTH_MM - SAYS_MM + 2, y + 3.2, one.says, 2.6, "start", "small"))
        y += ROW_MM
    parts += _limit_line(at_limit, top + 5.4, y)
    parts.append(f'<path class="line" d="M{NAME_MM:g} {top + 5.4:.2f}V{y:.2f}"/>')
    if left > 0:
        parts.append(_words(NAME_MM, y + 3.2, f"and {left} more, all of them lower", 2.6, "start", "small"))
        y += ROW_MM
    return parts, y


def _narrow_group(group: Bars, top: float) -> tuple[list[str], float]:
    """Each bar under its name and its figures, over the whole width."""
    ordered = sorted(group.bars, key=lambda one: -one.part)
    shown, left = ordered[:MOST_NARROW_BARS], len(ordered) - MOST_NARROW_BARS
    size, edge = NARROW_LETTERS_MM, 2.0
    room = NARROW_MM - 2 * edge
    at_limit = edge + room / SHOWN
    parts = [_words(edge, top + 4.6, group.title, 3.8, "start", "name")]
    parts.append(_words(NARROW_MM - edge, top + 4.6, f"line: {group.limit}", size, "end", "small"))
    y = top + TITLE_MM
    for one in shown:
        letters = int((room - letters_mm(one.says, size) - 3) / letters_mm("a", size))
        kind = "over" if one.part > 1 else "bar"
        wide = room * min(max(one.part, 0.0), SHOWN) / SHOWN
        parts.append(_words(edge, y + 3.2, _short(one.name, max(8, letters)), size, "start"))
        parts.append(_words(NARROW_MM - edge, y + 3.2, one.says, size, "end", "small"))
        parts.append(f'<rect class="{kind}" x="{edge:g}" y="{y + 4.6:.2f}" width="{wide:.2f}" height="3"/>')
        # Only beside the bars: across a line of words it would strike a letter out.
        parts += _limit_line(at_limit, y + 4.1, y + 8.1)
        y += NARROW_ROW_MM
    if left > 0:
        parts.append(_words(edge, y + 3.2, f"and {left} more, all of them lower", size, "start", "small"))
        y += ROW_MM
    return parts, y


def _limit_line(x: float, top: float, bottom: float) -> list[str]:
    return [f'<path class="{kind}" d="M{x:.2f} {top:.2f}V{bottom:.2f}"/>' for kind in ("edge", "limit")]


def _short(name: str, most: int = 38) -> str:
    return name if len(name) <= most else f"{name[: most - 1]}…"


def _words(x: float, y: float, text: str, size: float, anchor: str, name: str = "") -> str:
    kind = f' class="{name}"' if name else ""
    spot = f'x="{x:.2f}" y="{y:.2f}" font-size="{size:g}" text-anchor="{anchor}"'
    return f"<text{kind} {spot}>{escaped(text)}</text>"


def wiring_plot(machine: Machine, asked: WiringAsked, says: str) -> Plot | None:
    """Load, current and drop against what each may be."""
    figures = figures_of(runs_of(machine))
    supplies = supplies_of(
        machine, figures, rated_watt=asked.supply_watt, air_celsius=asked.air_celsius, low_line=asked.low_line
    )
    drops = [
        Bar(
            name=one.run.label,
            part=one.drop_share / one.drop_limit,
            says=f"{one.drop_volt:.2f} V of {one.run.volt:g} V, {one.drop_share:.1%}",
        )
        for one in figures
        if one.drop_limit > 0 and one.drop_share > 0 and one.run.role != "earth"
    ]
    heaters = [
        Bar(
            name=one.label,
            part=one.drop_share / DROP_LIMIT["heater"],
            says=f"{one.drop_volt:.2f} V of {one.volt:g} V, {one.drop_share:.1%}",
        )
        for one in heater_circuits(machine, figures)
    ]
    currents = [
        Bar(
            name=one.run.label,
            part=one.run.ampere / one.wire.design_ampere,
            says=f"{one.run.ampere:g} A of {one.wire.design_ampere:g} A",
        )
        for one in figures
        if one.wire.design_ampere > 0 and one.run.ampere > 0 and one.run.role != "earth"
    ]
    loads = [
        Bar(
            name=one.part,
            part=one.share / one.usable,
            says=f"{one.load_watt:.0f} W of {one.rated_watt:.0f} W, {one.share:.0%}",
        )
        for one in supplies
        if one.share is not None and one.usable > 0
    ]
    return limits_page(
        "Wiring",
        says,
        (
            Bars(title="Supply", limit="what may be used", bars=tuple(loads)),
            Bars(title="Current", limit="planned for the wire", bars=tuple(currents)),
            Bars(title="Drop to the heaters", limit="limit", bars=tuple(heaters)),
            Bars(title="Drop in each run", limit="limit", bars=tuple(drops)),
        ),
    )


def maintenance_plot(case: MaintenanceCase, says: str) -> Plot | None:
    """What ran since each task was done against its interval; None when nothing is known to have run."""
    bars = []
    for task in case.tasks:
        interval, from_date = counted_from(case, task)
        for share in shares(interval, case.use.get(task.id), from_date, case.today):
            unit = {"hours": "h", "travel": "km"}.get(share.of, share.of)
            bars.append(
                Bar(
                    name=f"{task.title}: {share.of}",
                    part=share.part.value,
                    says=f"{share.since.value:.3g} {unit} of {share.limit:g} {unit}",
                )
            )
    return limits_page("Maintenance", says, (Bars(title="Since it was done", limit="due", bars=tuple(bars)),))
