"""Each mistake of a builder, as a paper over a demo machine, gives exactly its own finding."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from trysquare.cli.check_facts import all_findings, check_facts
from trysquare.ground.findings import Finding, Weight
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine, PlacedPart
from trysquare.sequence.reach import Reach
from trysquare.solid.shapes import makes_solid, solid_of
from trysquare.stock.need import need

DEMO = Path(__file__).resolve().parents[2] / "demo"
MISTAKES = DEMO / "mistakes"


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """The one finding of a paper: its code, the parts it begins with, and its place."""

    paper: str
    code: str
    parts: tuple[str, ...] = ()
    joint: str = ""
    step: str = ""
    at_mm: tuple[float, float, float] | None = None


EXPECTED = (
    Expected(
        paper="01-screw-too-long-in-slot",
        code="screw-too-long",
        parts=("motion/left-motor-plate/screw.1", "carry/left-carry", "motion/left-motor-plate/screw.2"),
        joint="motion/left-motor-plate",
        at_mm=(10, 368, 403.9),
    ),
    Expected(
        paper="02-screw-too-short-in-insert",
        code="screw-too-short",
        parts=("toolhead/cable-anchor/screw.1", "toolhead/cable-anchor/insert.1"),
        joint="toolhead/cable-anchor",
        at_mm=(202, 195, 431),
    ),
    Expected(
        paper="03-screw-too-long-into-block",
        code="screw-too-long",
        parts=("gantry/left-plate/screw.1", "y-rails/left-block"),
        joint="gantry/left-plate",
        at_mm=(17.5, 197, 417),
    ),
    Expected(
        paper="04-screw-tip-in-a-moving-path",
        code="in-moving-path",
        parts=("panels/carrying-handle/screw.2", "gantry/left-plate"),
        joint="panels/carrying-handle",
        at_mm=(3.5, 248, 422.5),
    ),
    Expected(
        paper="05-slide-in-nut-forgotten",
        code="nut-shut-out",
        parts=("motion/front-left-bracket/nut.1", "motion/front-left-bracket/nut.2", "carry/left-carry"),
        joint="motion/front-left-bracket",
        step="front-idlers",
        at_mm=(10, 210, 410),
    ),
    Expected(
        paper="06-upright-turned",
        code="access-hole-missing",
        parts=("carry/carry-ends/screw.1", "uprights/left-front"),
        joint="carry/carry-ends",
        at_mm=(10, 18.3, 400),
    ),
    Expected(
        paper="07a-nuts-too-close",
        code="nuts-too-close",
        parts=("electronics/gantry-x-bracket/nut.1", "electronics/gantry-x-bracket/nut.2", "gantry/x-beam"),
        joint="electronics/gantry-x-bracket",
        at_mm=(66, 205, 397),
    ),
    Expected(
        paper="07b-nuts-in-the-wrong-order",
        code="nuts-would-pass",
        parts=("y-rails/left-rail/nut.1", "y-rails/left-rail/nut.2"),
        joint="y-rails/left-rail",
        step="carry-nuts",
        at_mm=(10, 210, 410),
    ),
    Expected(
        paper="08-nut-of-another-slot",
        code="nut-unfit-for-slot",
        parts=("motion/right-motor-plate/nut.1", "carry/right-carry"),
        joint="motion/right-motor-plate",
        at_mm=(410, 368, 415),
    ),
    Expected(
        paper="09a-uprights-swapped",
        code="access-hole-missing",
        parts=("carry/carry-ends/screw.5", "uprights/left-back"),
        joint="carry/carry-ends",
        at_mm=(18.3, 410, 400),
    ),
    Expected(
        paper="09b-beams-swapped",
        code="end-not-tapped",
        parts=("top/front-top", "uprights/left-front", "uprights/right-front"),
        joint="top/ring",
        at_mm=(20, 10, 470),
    ),
    Expected(
        paper="10-upright-end-for-end",
        code="end-meets-no-slot",
        parts=("uprights/left-front",),
        joint="uprights/feet",
        at_mm=(10, 10, 480),
    ),
    Expected(
        paper="11-access-hole-covered",
        code="no-key-line",
        parts=("carry/carry-ends/screw.5", "panels/left"),
        joint="carry/carry-ends",
        step="sixth-screw",
        at_mm=(18.3, 410, 400),
    ),
    Expected(
        paper="12-rail-offset-from-wrong-end",
        code="block-runs-off-rail",
        parts=("bed/right-block", "z-rails/right-rail"),
        joint="bed/right-carriage",
        at_mm=(310, 400, 280),
    ),
    Expected(
        paper="13-rail-turned-with-unequal-ends",
        code="rail-turned",
        parts=("z-rails/right-rail", "posts/right-post"),
        joint="z-rails/right-rail",
        at_mm=(310, 394, 345),
    ),
    Expected(
        paper="14a-carriage-off-an-open-rail",
        code="carriage-can-run-off",
        parts=("gantry/x-block", "gantry/x-rail"),
        step="x-carriage",
    ),
    Expected(
        paper="14b-stops-before-the-carriage",
        code="no-open-rail-end",
        parts=("gantry/x-block", "gantry/x-rail", "gantry/x-stop-left"),
        step="x-carriage",
    ),
    Expected(
        paper="15a-rail-from-its-ends",
        code="tightened-from-the-ends",
        joint="y-rails/left-rail",
        step="y-rails",
    ),
    Expected(
        paper="15b-rail-screws-skipped",
        code="screws-left-out",
        joint="y-rails/left-rail",
        step="y-rails",
    ),
    Expected(
        paper="16-both-rails-final-before-the-gantry",
        code="rails-final-before-run",
        joint="y-rails/left-rail",
        step="y-rails",
    ),
    Expected(
        paper="17-left-snug",
        code="left-snug",
        parts=("toolhead/left-clamp", "toolhead/carriage"),
        joint="toolhead/left-clamp",
        step="belts",
    ),
    Expected(
        paper="18-tight-before-squared",
        code="final-before-read",
        parts=("base/left-base", "base/front-base", "base/back-base", "base/right-base"),
        joint="base/corners",
        step="base-true",
    ),
    Expected(
        paper="19-stop-of-another-place",
        code="stops-unequal",
        parts=("y-rails/left-stop-back", "y-rails/right-stop-back"),
    ),
    Expected(
        paper="20-rails-before-the-rock-test",
        code="rails-before-twist",
        joint="y-rails/left-rail",
        step="y-rails",
    ),
    Expected(
        paper="21-mirror-bracket-on-the-wrong-side",
        code="overlap",
        parts=("motion/front-left-bracket", "motion/front-left-spacer"),
        at_mm=(70, 40, 418.5),
    ),
    Expected(
        paper="22-parts-of-two-revisions",
        code="revision-mismatch",
        parts=("toolhead/carriage", "toolhead/tool-mount"),
    ),
    Expected(
        paper="24-belts-on-unequal-paths",
        code="belts-unequal",
        parts=("motion/belt-b/belt.1", "motion/belt-a/belt.1"),
        joint="motion/belt-b",
    ),
    Expected(
        paper="26a-threadlocker-before-truing",
        code="locked-before-truing",
        joint="gantry/left-plate",
        step="gantry",
    ),
    Expected(
        paper="26b-threadlocker-on-plastic",
        code="threadlocker-cracks-plastic",
        parts=("motion/front-left-bracket",),
        joint="motion/front-left-bracket",
        step="front-idlers",
    ),
    Expected(
        paper="26c-grub-beside-the-flat",
        code="grub-beside-flat",
        parts=("motion/left-pulley", "motion/left-motor"),
        joint="motion/left-pulley",
    ),
    Expected(
        paper="28-coil-pairs-crossed",
        code="coil-pairs-crossed",
        parts=("electronics/board", "motion/left-motor"),
        joint="wiring/motor-a",
    ),
    Expected(
        paper="29-supply-turned",
        code="pins-crossed",
        parts=("electronics/fuses", "electronics/board"),
        joint="wiring/fuses-board",
    ),
    Expected(paper="31-voided-step-done", code="papers-contradict", step="bed-springs"),
    Expected(paper="32-two-papers-one-line", code="papers-contradict"),
    Expected(
        paper="33-insert-after-its-neighbours",
        code="iron-cannot-reach",
        parts=("toolhead/tool-mount-high/insert.1", "toolhead/tool-mount"),
        joint="toolhead/tool-mount-high",
        step="tool-on",
    ),
    Expected(
        paper="34-motor-after-its-mount",
        code="no-way-in",
        parts=("z-drive/motor-left",),
        joint="z-drive/motor-left",
        step="z-motors",
    ),
    Expected(
        paper="35-crimped-before-the-clips",
        code="plug-larger-than-hole",
        parts=("electronics/clip-right-low", "electronics/clip-right-high"),
        joint="wiring/motor-feeder",
        step="back-panel",
    ),
    Expected(
        paper="36-head-gap-too-small",
        code="head-gap-wrong",
        parts=("carry/carry-ends/screw.1", "uprights/left-front"),
        joint="carry/carry-ends",
        step="carry-nuts",
    ),
    Expected(
        paper="37-read-while-loose",
        code="read-before-snug",
        joint="posts/post-heads",
        step="posts-true",
    ),
    Expected(
        paper="38-panel-without-clearance",
        code="overlap",
        parts=("panels/front", "panels/door"),
        at_mm=(219, -1.5, 117),
    ),
    Expected(
        paper="39-two-greases",
        code="greases-mixed",
        parts=("gantry/x-block", "gantry/x-rail"),
        step="x-grease",
    ),
    Expected(
        paper="40-cut-off-above-the-glue",
        code="cut-off-above-limit",
        parts=("electronics/bed-cut-off", "bed/heater"),
        joint="wiring/bed-heat-link",
    ),
    Expected(
        paper="41-caliper-too-short",
        code="instrument-cannot-read",
        parts=("posts/left-post", "posts/right-post"),
        step="posts-true",
    ),
    Expected(
        paper="reed/05-nut-behind-the-end-plates",
        code="nut-shut-out",
        parts=("track/right-stop-screw/nut.1", "track/base"),
        joint="track/right-stop-screw",
        step="block",
        at_mm=(200, 0, 20),
    ),
    Expected(
        paper="reed/14-block-without-its-stop",
        code="carriage-can-run-off",
        parts=("carriage/block", "track/rail"),
        step="block",
    ),
)


@dataclass(slots=True)
class Clean:
    """A demo machine without mistakes, with what was found out about its solids."""

    machine: Machine
    reach: Reach
    said: set[tuple[str, str]] = field(default_factory=set)

    def adds(self, machine: Machine) -> list[Finding]:
        """The stops and doubts of another machine that this one has not."""
        reach = self.reach if same_solids(self.machine, machine) else None
        return [one for one in told(machine, reach) if (one.code, one.says) not in self.said]


def told(machine: Machine, reach: Reach | None) -> list[Finding]:
    found = all_findings(machine, need(machine), reach)
    return [one for one in found if one.weight is not Weight.NOTE]


def same_solids(one: Machine, other: Machine) -> bool:
    """Whether two machines have the same solids in the same places, so that geometric answers are shared."""

    def alike(first: PlacedPart, second: PlacedPart) -> bool:
        if not makes_solid(first.type) or not makes_solid(second.type):
            return makes_solid(first.type) == makes_solid(second.type)
        # Solids are made once for each content.
        same = solid_of(first.type, one.folder) is solid_of(second.type, other.folder)
        return same and bool((first.placement.matrix() == second.placement.matrix()).all())

    return list(one.part) == list(other.part) and all(
        alike(part, other.part[name]) for name, part in one.part.items()
    )


@pytest.fixture(scope="module")
def clean() -> dict[str, Clean]:
    found = {}
    for name in ("larch", "reed-joints"):
        machine = load_machine(DEMO / name)
        reach = Reach(machine)
        said = {(one.code, one.says) for one in told(machine, reach)}
        found[name] = Clean(machine, reach, said)
    return found


def folder_of(paper: str) -> str:
    return "reed-joints" if paper.startswith("reed/") else "larch"


@pytest.mark.slow
@pytest.mark.parametrize("expected", EXPECTED, ids=lambda expected: expected.paper)
def test_a_mistake_gives_exactly_its_own_finding(expected: Expected, clean: dict[str, Clean]) -> None:
    folder = folder_of(expected.paper)
    found = clean[folder].adds(load_machine(DEMO / folder, [MISTAKES / f"{expected.paper}.toml"]))
    assert [one.code for one in found] == [expected.code], "\n".join(one.says for one in found)
    (finding,) = found
    assert finding.parts[: len(expected.parts)] == expected.parts
    assert (finding.joint, finding.step) == (expected.joint, expected.step)
    if expected.at_mm is not None:
        assert finding.at_mm == pytest.approx(expected.at_mm, abs=0.5)


@pytest.mark.slow
def test_the_command_tells_the_same() -> None:
    facts = check_facts(str(DEMO / "larch"), [str(MISTAKES / "05-slide-in-nut-forgotten.toml")])
    assert [fact["code"] for fact in facts["findings"] if fact["weight"] == "stop"] == ["nut-shut-out"]


def test_every_paper_is_expected_and_tells_why_it_was_done() -> None:
    papers = {
        path.relative_to(MISTAKES).with_suffix("").as_posix()
        for path in MISTAKES.rglob("*.toml")
        if path.parent.name != "wiring"  # for `trysquare tune wiring`; tests/cli/test_thirty_mistakes.py
    }
    assert papers == {expected.paper for expected in EXPECTED}
    assert all("reason = " in (MISTAKES / f"{paper}.toml").read_text() for paper in papers)


def test_the_readme_names_all_thirty_and_every_paper_with_its_finding() -> None:
    text = (MISTAKES / "README.md").read_text()
    assert re.findall(r"^\| (\d+) \|", text, re.MULTILINE) == [str(number) for number in range(1, 31)]
    for expected in EXPECTED:
        row = next(line for line in text.splitlines() if f"`{expected.paper}`" in line)
        assert f"`{expected.code}`" in row
