"""How many answers are right: shares of agreement, on small fixed samples that are named with each figure.

python -m benchmarks.answers [recognised] [foreign] [blind] [changes] [seen]; none: all

The samples, and what they are held against, are those of the tests: the demo's own folder, the rows that a
foreign file was drawn from, a slow judge of orders, rays of another library.
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Collection
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.figures import row
from trysquare.machine.load import load_machine

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))
DEMO = ROOT / "demo"
CHANGES = 20  # of each small machine
CHANGES_OF_REED, CHANGES_OF_LARCH = 60, 40


def share(found: Collection[Any], wanted: Collection[Any]) -> tuple[int, int]:
    """How many of what was wanted were found, each as often as it was wanted."""
    there, asked = _counter(found), _counter(wanted)
    return (there & asked).total(), asked.total()


def _counter(values: Collection[Any]) -> Counter[Any]:
    return values if isinstance(values, Counter) else Counter(values)


def told(right: int, of: int) -> str:
    """A share in words."""
    return f"{right / max(1, of):.1%} of {of}"


def recognised() -> None:
    """Larch given out by us as STEP, names stripped and the whole turned, taken in again."""
    from intake.taken import back, counted, member_holes, members, nameless_and_turned, rides, screws  # type: ignore[import-not-found]
    from trysquare.catalogue.lookup import lookup
    from trysquare.catalogue.values import BlockSize, LeadScrew, RailSize
    from trysquare.intake.recognise import recognised as recognised_shape

    with tempfile.TemporaryDirectory() as folder:
        came = back("larch", Path(folder) / "larch", nameless_and_turned)
        what: tuple[tuple[str, str, Callable[..., Any]], ...] = (
            ("members", "100 %", members),
            ("members' holes", "100 %", member_holes),
            ("rails with their blocks", "100 %", rides),
            ("screws in their joints", "all", screws),
        )
        for name, asked, of in what:
            right = share(of(came, came.machine), of(came, came.demo))
            row(f"Larch as STEP, nameless, turned: {name}", asked, told(*right), of="9")
        # lead screws are given out as plain bars: their solids do not tell pitch and starts
        others = RailSize | BlockSize | LeadScrew
        wanted = {one: n for one, n in counted(came.demo).items() if not isinstance(lookup(one), others)}
        right = share(counted(came.machine), Counter(wanted))
        row("Larch as STEP, nameless, turned: fasteners and turned parts", "≥ 99 %", told(*right), of="9")
        bars = Counter(
            {one: n for one, n in counted(came.demo).items() if isinstance(lookup(one), LeadScrew)}
        )
        asked_for = Counter(
            name
            for body in came.taken.assembly.bodies
            for name in recognised_shape(came.taken.assembly.shapes[body.shape]).alternatives
        )
        right = share(asked_for, bars)
        row("Larch as STEP, nameless, turned: bare lead screws asked for", "all", told(*right), of="9")


def foreign() -> None:
    """Assemblies that other kernels drew or other writers wrote."""
    from intake import test_foreign_assemblies as plain  # type: ignore[import-not-found]
    from intake import test_kernel_assemblies as kernels
    from intake.meshed import write_facetted, write_meshed  # type: ignore[import-not-found]
    from intake.taken import counted, members, rides, screws

    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        for name, ending, write in (
            ("slider of meshes", "3mf", write_meshed),
            ("slider of flats, STEP", "step", write_facetted),
        ):
            came = plain.come_back("reed-joints", place / f"{ending}.{ending}", write)
            parts = [
                share(of(came, came.machine), of(came, came.demo)) for of in (members, screws, rides)
            ] + [share(Counter(counted(came.machine)), Counter(counted(came.demo)))]
            row(f"foreign assembly, {name}", "≥ 95 %", told(*_summed(parts)), of="9")
        for number, name in enumerate((*kernels.SLIDERS, "frame-smlib", "frame-smlib-rounded"), 1):
            (place / name).mkdir()
            came = kernels.come_back(name, place / name)
            standard = Counter({(one,): n for one, n in counted(came.machine).items()})
            parts = [
                share(members(came, came.machine), kernels.expected(name, "members")),
                share(screws(came, came.machine), kernels.expected(name, "screws")),
                share(standard, kernels.expected(name, "standard")),
                share(
                    rides(came, came.machine),
                    {kernels.as_tuple(each) for each in kernels.facts(name)["rides"]},
                ),
            ]
            sort = "frame" if name.startswith("frame") else "slider"
            sort += ", edges rounded" if name.endswith("rounded") else ""
            row(
                f"foreign assembly {number} by another kernel, {sort}",
                "≥ 95 %",
                told(*_summed(parts)),
                of="9",
            )


def blind() -> None:
    """Machines nobody tuned on, as other programs drew them, kind by kind; the least kind is told."""
    from intake.blind import NAMES, NOT_IN_OUR_TABLES, right_and_all  # type: ignore[import-not-found]

    for name in NAMES:
        right, there = right_and_all(name)
        left = NOT_IN_OUR_TABLES.get(name.partition(".")[0], ())
        kinds = {kind: right[kind] / there[kind] for kind in there if kind not in left}
        least = min(kinds, key=kinds.__getitem__)
        all_told = told(sum(right[kind] for kind in kinds), sum(there[kind] for kind in kinds))
        row(
            f"machine nobody tuned on, {name}: pieces of {len(kinds)} kinds",
            "≥ 95 % each kind",
            f"{all_told}; least: {least}, {kinds[least]:.0%}",
            of="9",
        )


def _summed(parts: list[tuple[int, int]]) -> tuple[int, int]:
    return sum(right for right, _ in parts), sum(of for _, of in parts)


def changes() -> None:
    """Random changes of orders, judged by the rules and by the slow judge."""
    from sequence.mutations import mutations  # type: ignore[import-not-found]
    from sequence.test_judge import BENCHES, differing  # type: ignore[import-not-found]

    wrong = tried = 0
    with tempfile.TemporaryDirectory() as folder:
        for name in sorted(BENCHES):
            place = Path(folder) / name
            place.mkdir()
            machine = BENCHES[name].machine(place)
            wrong += len(differing(machine, mutations(machine.steps, CHANGES, seed=5)))
            tried += CHANGES
    row(f"orders changed at random, {len(BENCHES)} small machines: judged the same", "all",
        f"{tried - wrong} of {tried}", of="3")  # fmt: skip
    for demo, count in (("reed-joints", CHANGES_OF_REED), ("larch", CHANGES_OF_LARCH)):
        machine = load_machine(DEMO / demo)
        wrong = len(differing(machine, mutations(machine.steps, count, seed=1)))
        row(
            f"orders changed at random, {demo}: judged the same", "all", f"{count - wrong} of {count}", of="3"
        )


def seen_points() -> None:
    """Points on edges of pictures of Larch, seen by our drawing and by rays of another library."""
    from drawn_bodies import free_by_rays, larch_step, samples_on_edges  # type: ignore[import-not-found]
    from facts.test_drawing_against_rays import DOT_MM, VIEWS  # type: ignore[import-not-found]
    from trysquare.solid.drawing import fitted, seen

    for step in (25, 53):
        scene = larch_step(step)
        rays = free_by_rays(scene)
        same: list[np.ndarray[Any, Any]] = []
        for way in VIEWS:
            view = fitted(scene, way, 160, 160)
            points = samples_on_edges(scene, view, 4 * DOT_MM)
            free = rays(points, view.frame()[2], 0.05)
            same.append(seen(scene, view, points, slack=0.05) == free)
        right = list(chain.from_iterable(one.tolist() for one in same))
        share_right = f"{np.mean(right):.2%} of {len(right)}"
        row(f"points of step {step} seen as rays say, {len(VIEWS)} views", "≥ 99 %", share_right, of="5")


PARTS: dict[str, Callable[[], None]] = {
    "recognised": recognised, "foreign": foreign, "blind": blind, "changes": changes, "seen": seen_points,
}  # fmt: skip


def main() -> None:
    """Prints one row for each figure."""
    for name in sys.argv[1:] or PARTS:
        if name not in PARTS:
            raise SystemExit(f"read {json.dumps(name)}, expected one of {', '.join(PARTS)}")
        PARTS[name]()


if __name__ == "__main__":
    main()
