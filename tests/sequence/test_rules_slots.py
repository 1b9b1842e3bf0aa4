"""Nuts in slots: by which end they come, what shuts them out, and until when they can still go in."""

from __future__ import annotations

from pathlib import Path

import pytest

from sequence.folders import BEAM, PANEL, PLATE, POST, Bench, is_clean, only

OTHER = {"a": "b", "b": "a"}


def plate_joint(name: str) -> str:
    """A plate held by nuts that slide in."""
    return (
        f'{name} = {{ recipe = "plate-on-slots", through = ["{name}:m"], screw = "ISO 7380-1 M5", '
        'nut = "slide-in" }\n'
    )


SLOT = Bench(
    parts=BEAM.replace("length_mm = 200", "length_mm = 200\nhole = [@]").replace(
        "[@]",
        '[{ name = "key", face = "-z", from = "a", at_mm = [10, 190], diameter_mm = 5.5, access = true }]',
    )
    + POST
    + PLATE
    + PANEL
    + """
[part.foot]
kind = "printed"
material = "PETG"
solid = [{ box_mm = [40, 40, 20] }]
hole = [{ name = "m", at_mm = [20, 20, 20], thickness_mm = 20, diameter_mm = 5.5, counterbore_mm = [10, 12] }]
[part.riser]
kind = "member"
profile = "profile 20x20 slot 6"
length_mm = 100
tapped = ["a"]
[part.nosed-bracket]
kind = "bought"
material = "aluminium"
solid = [
  { box_mm = [18, 18, 3], at_mm = [0, -9, 0] },
  { box_mm = [3, 18, 18], at_mm = [0, -9, 0] },
  { box_mm = [4, 5, 6], at_mm = [-4, -2.5, 9] },
]
hole = [{ name = "leg", at_mm = [11, 0, 3], direction = "+z", diameter_mm = 5.5, thickness_mm = 3 }]
""",
    place="""
beam = { part = "beam" }
plate = { part = "plate", on = "beam:+z", offset_mm = 80, across_mm = -10 }
""",
    joint=plate_joint("plate"),
    steps="""
beam: place beam
nuts: insert plate
plate: place plate; start plate; tighten plate
""",
)
"""A beam with one plate on its upper slot, held by two nuts that slide in."""


def closed(bench: Bench, closer: str, end: str, step: str) -> Bench:
    """The bench with one end of the upper slot closed in a step of its own, after all others."""
    place, joint, actions = CLOSERS[closer](end)
    return Bench(
        parts=bench.parts,
        place=bench.place + place,
        joint=bench.joint + joint,
        steps=f"{bench.steps.rstrip()}\n{step}: {actions}\n",
    )


def _against(part: str, half_mm: float, end: str) -> tuple[str, str, str]:
    """A flat part screwed into the beam's end."""
    at, ways = (200, '"+y", up = "+x"') if end == "b" else (0, '"-y", up = "-x"')
    side = -half_mm if end == "b" else half_mm
    name = f"{part}-{end}"
    return (
        f'{name} = {{ part = "{part}", at_mm = [{at}, {side}, {-half_mm}], along = {ways} }}\n',
        (
            f'{name} = {{ recipe = "through-bolt", through = ["{name}:m"], into = "beam:{end}", '
            'screw = "ISO 7380-1 M5" }\n'
        ),
        f"place {name}; start {name}; tighten {name}",
    )


def _member(end: str) -> tuple[str, str, str]:
    name = f"post-{end}"
    return (
        f'{name} = {{ part = "post", at_mm = [{210 if end == "b" else -10}, 0, -50], along = "+z" }}\n',
        f'{name} = {{ recipe = "blind-joint", ends = ["beam:{end}"], screw = "ISO 7380-1 M5" }}\n',
        f"place {name}; start {name}; snug {name}; tighten {name}",
    )


def _upright(end: str) -> tuple[str, str]:
    """A member that stands on the beam's end without closing the slot, and the way it looks inwards."""
    at, inwards = (190, "-x") if end == "b" else (10, "+x")
    return f'riser-{end} = {{ part = "riser", at_mm = [{at}, 0, 10], along = "+z" }}\n', inwards


def _bracket(end: str) -> tuple[str, str, str]:
    place, inwards = _upright(end)
    return (
        place,
        (
            f'nose-{end} = {{ recipe = "bracket", bracket = "nosed-bracket", nut = "slide-in", '
            f'screw = "ISO 7380-1 M5", corners = [{{ end = "riser-{end}:a", toward = "{inwards}" }}] }}\n'
        ),
        f"place riser-{end}; insert nose-{end}; start nose-{end}; tighten nose-{end}",
    )


def _screw_head(end: str) -> tuple[str, str, str]:
    place, _ = _upright(end)
    return (
        place,
        f'head-{end} = {{ recipe = "blind-joint", ends = ["riser-{end}:a"], screw = "ISO 7380-1 M5" }}\n',
        f"place riser-{end}; start head-{end}; snug head-{end}; tighten head-{end}",
    )


CLOSERS = {
    "member": _member,
    "bracket": _bracket,
    "foot": lambda end: _against("foot", 20, end),
    "panel": lambda end: _against("panel", 15, end),
    "screw head": _screw_head,
}
BLOCKERS = {
    "member": "w/post-{}",
    "bracket": "w/nose-{}/bracket.1",
    "foot": "w/foot-{}",
    "panel": "w/panel-{}",
    "screw head": "w/head-{}/screw.1",
}


@pytest.mark.parametrize("end", ["a", "b"])
@pytest.mark.parametrize("closer", sorted(CLOSERS))
def test_nuts_still_go_in_by_the_other_end_when_one_is_closed(closer: str, end: str, tmp_path: Path) -> None:
    bench = closed(SLOT, closer, end, "close")
    assert is_clean(bench.ordered("beam", "close", "nuts", "plate"), tmp_path)


@pytest.mark.parametrize("end", ["a", "b"])
@pytest.mark.parametrize("closer", sorted(CLOSERS))
def test_nuts_are_shut_out_once_both_ends_are_closed(closer: str, end: str, tmp_path: Path) -> None:
    bench = closed(
        closed(SLOT, closer, end, "one"), "panel" if closer != "panel" else "foot", OTHER[end], "two"
    )
    finding = only(bench.ordered("beam", "one", "two", "nuts", "plate"), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("nut-shut-out", "nuts", "w/plate")
    last = "w/foot-" if closer == "panel" else "w/panel-"
    assert {"w/plate/nut.1", "w/plate/nut.2", "w/beam", BLOCKERS[closer].format(end)} < set(finding.parts)
    assert f"before step two, where {last}{OTHER[end]} closes end {OTHER[end]}" in finding.remedy
    assert (finding.value, finding.unit) == (2.0, "pieces")


@pytest.mark.parametrize("end", ["a", "b"])
@pytest.mark.parametrize("closer", sorted(CLOSERS))
def test_the_latest_step_for_nuts_is_the_one_that_closes_the_second_end(
    closer: str, end: str, tmp_path: Path
) -> None:
    bench = closed(
        closed(SLOT, closer, end, "one"), "panel" if closer != "panel" else "foot", OTHER[end], "two"
    )
    finding = only(bench.ordered("beam", "two", "one", "nuts", "plate"), tmp_path)
    assert finding.code == "nut-shut-out"
    assert "before step one, where" in finding.remedy
    assert f"closes end {end}" in finding.remedy


@pytest.mark.parametrize("closer", sorted(CLOSERS))
def test_an_order_that_takes_the_finding_s_advice_is_clean(closer: str, tmp_path: Path) -> None:
    bench = closed(closed(SLOT, closer, "b", "one"), "panel" if closer != "panel" else "foot", "a", "two")
    assert is_clean(bench.ordered("beam", "one", "nuts", "two", "plate"), tmp_path)


def test_nuts_need_the_member_whose_slot_they_go_into(tmp_path: Path) -> None:
    finding = only(SLOT.ordered("nuts", "beam", "plate"), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("slot-not-there", "nuts", "w/plate")
    assert finding.parts == ("w/plate/nut.1", "w/plate/nut.2", "w/beam")
    assert finding.remedy == "Place w/beam first."


TWO_PLATES = Bench(
    parts=SLOT.parts,
    place=SLOT.place + 'late = { part = "plate", on = "beam:+z", offset_mm = 20, across_mm = -10 }\n',
    joint=SLOT.joint + plate_joint("late"),
    steps=SLOT.steps + "late-nuts: insert late\nlate: place late; start late; tighten late\n",
)


def test_a_nut_would_have_to_pass_another_when_the_near_end_is_closed(tmp_path: Path) -> None:
    bench = closed(TWO_PLATES, "panel", "a", "close")
    assert is_clean(bench.ordered("beam", "nuts", "late-nuts", "close", "plate", "late"), tmp_path)
    finding = only(bench.ordered("beam", "close", "nuts", "late-nuts", "plate", "late"), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("nuts-would-pass", "late-nuts", "w/late")
    assert {"w/late/nut.1", "w/late/nut.2", "w/plate/nut.1", "w/panel-a"} < set(finding.parts)
    assert "before step nuts, where w/plate/nut." in finding.remedy


def test_nuts_enter_in_the_order_in_which_they_lie_when_one_end_is_open(tmp_path: Path) -> None:
    bench = closed(TWO_PLATES, "panel", "a", "close")
    assert is_clean(bench.ordered("beam", "close", "late-nuts", "nuts", "plate", "late"), tmp_path)


ROLL_IN = Bench(
    parts=SLOT.parts,
    place=SLOT.place,
    joint=SLOT.joint.replace("slide-in", "roll-in"),
    steps=SLOT.steps,
)


def test_an_insertable_nut_goes_in_through_the_mouth_when_both_ends_are_closed(tmp_path: Path) -> None:
    bench = closed(closed(ROLL_IN, "panel", "a", "one"), "panel", "b", "two")
    assert is_clean(bench.ordered("beam", "one", "two", "nuts", "plate"), tmp_path)


def test_an_insertable_nut_is_shut_out_once_its_mouth_is_covered(tmp_path: Path) -> None:
    bench = closed(closed(ROLL_IN, "panel", "a", "one"), "panel", "b", "two")
    # The plate lies on the mouth already, held by a screw of its own, whose nut closes the way to end b.
    bench = Bench(
        parts=bench.parts.replace(
            'name = "m", at_mm = [[10, 10], [30, 10]], diameter_mm = 5.5 }',
            'name = "m", at_mm = [[10, 10]], diameter_mm = 5.5 }, '
            '{ name = "n", at_mm = [30, 10], diameter_mm = 5.5 }',
        ),
        place=bench.place,
        joint=bench.joint + SLOT.joint.replace("plate =", "hold =").replace("plate:m", "plate:n"),
        steps=bench.steps + "hold: insert hold; place plate; start hold; tighten hold\n",
    ).but(("plate: place plate; start", "plate: start"))
    finding = only(bench.ordered("beam", "hold", "one", "two", "nuts", "plate"), tmp_path)
    assert (finding.code, finding.step, finding.joint) == ("mouth-covered", "nuts", "w/plate")
    assert {"w/plate/nut.1", "w/beam", "w/panel-a", "w/hold/nut.1", "w/plate"} <= set(finding.parts)
    assert "before step one, where w/panel-a closes end a" in finding.remedy
    assert is_clean(bench.ordered("beam", "hold", "two", "nuts", "one", "plate"), tmp_path / "mended")
