"""Addresses of the bench's own pages, and times and amounts as people read them."""

from __future__ import annotations

from urllib.parse import quote

from trysquare.bench.views import StepLink

DRAWINGS = "/drawn"
"""Where drawings lie, by their content's names."""


def step_href(step: str) -> str:
    """A step's page."""
    return f"/step/{quote(step, safe='')}"


def part_href(part: str) -> str:
    """A sort's page, or a placed piece's."""
    return f"/part/{quote(part, safe='')}"


def paper_href(paper: str) -> str:
    """All that one paper says."""
    return f"/papers?paper={quote(paper, safe='')}"


def papers_href(identity: str) -> str:
    """Who says so, for a thing of the machine."""
    return f"/papers?of={quote(identity, safe='')}"


def step_link(step: str, number: int, title: str) -> StepLink:
    """A step named elsewhere."""
    return StepLink(id=step, number=number, title=title, href=step_href(step))


def duration(seconds: float) -> str:
    """As people say it: "40 s", "12 min" or "3 h 05"; "" for nothing."""
    if seconds <= 0:
        return ""
    if seconds < 50:
        return f"{max(1, round(seconds))} s"
    minutes = max(1, round(seconds / 60))
    return f"{minutes} min" if minutes < 100 else f"{minutes // 60} h {minutes % 60:02d}"


def planned(seconds: float, basis: str) -> str:
    """A planned time, with how sure it is."""
    told = duration(seconds)
    return f"about {told}" if told and basis == "estimated" else told


def counted(pieces: int, one: str, many: str = "") -> str:
    """A count with its name: "1 step", "3 steps"."""
    return f"{pieces} {one if pieces == 1 else many or f'{one}s'}"


def pieces_of(pieces: int) -> str:
    """A count before a name: "4 ×"."""
    return f"{pieces} ×"
