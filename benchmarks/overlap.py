"""Measures the overlap check against a general collision library on the same meshes.

    python benchmarks/overlap.py              all figures of the generated machine, as JSON
    python benchmarks/overlap.py --copies 4   ours alone on 4 copies, with peak memory

`run(machine)` does the same for a loaded machine. Figures are in seconds; ours "cold" includes making
every solid, and starts with empty caches. Two figures for the library: as its collision manager is
used out of the box (a tree built for every object), and with trees shared between equal meshes.
Its contacts are not overlaps: every pair it names is checked afterwards, outside its time, by an
independent boolean volume; pairs where one part is wholly inside the other it cannot see, and
they are compared apart.
"""

from __future__ import annotations

import argparse
import json
import math
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from trysquare.ground.tolerances import OVERLAP_MM3
from trysquare.machine.values import Machine, PlacedPart
from trysquare.solid.overlap import overlaps, solids_of
from trysquare.solid.shapes import forget_solids
from trysquare.solid.shared import forget_standings

REPEATS = 5
Pairs = set[frozenset[str]]


def best(action: Callable[[], object], repeats: int = REPEATS) -> float:
    """The least time of several runs, in seconds: noise only ever adds."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return min(times)


def ours(placed: Sequence[PlacedPart], folder: Path) -> dict[str, Any]:
    """Our times and answer."""

    def cold() -> object:
        forget_solids()
        forget_standings()
        return overlaps(placed, folder)

    def meshed() -> object:
        forget_standings()
        return overlaps(placed, folder)

    answer = overlaps(placed, folder)
    return {
        "parts": len(placed),
        "cold_s": best(cold),
        "meshes_ready_s": best(meshed),
        "warm_s": best(lambda: overlaps(placed, folder)),
        "overlaps": len(answer),
        "pairs": {frozenset((one.a_id, one.b_id)) for one in answer},
    }


def library(placed: Sequence[PlacedPart], folder: Path) -> dict[str, Any]:
    """The collision manager's times and the pairs it names."""
    import fcl
    import trimesh
    from trimesh.collision import CollisionManager

    meshes: dict[bytes, Any] = {}
    rows = []
    for part, solid in zip(placed, solids_of(placed, folder), strict=True):
        if solid is not None:
            mesh = meshes.setdefault(
                solid.digest, trimesh.Trimesh(solid.points_mm, solid.triangles, process=False)
            )
            rows.append((part.id, mesh, np.vstack([part.placement.matrix(), [0, 0, 0, 1]])))

    def managed() -> Pairs:
        manager = CollisionManager()
        for name, mesh, matrix in rows:
            manager.add_object(name, mesh, matrix)
        # its own in_collision_internal() stops after 100 000 contacts in all and may lose pairs;
        # the same manager with a callback that asks for one contact a pair names them all
        names = {id(manager._objs[name]["geom"]): name for name, _, _ in rows}  # noqa: SLF001 - no public table
        return asked(manager._manager, names)  # noqa: SLF001 - its callback is what we replace

    def asked(manager: Any, names: dict[int, str]) -> Pairs:
        found: Pairs = set()
        request = fcl.CollisionRequest(num_max_contacts=1, enable_contact=True)

        def meet(a: Any, b: Any, _: Any) -> bool:
            result = fcl.CollisionResult()
            if fcl.collide(a, b, request, result):
                contact = result.contacts[0]
                found.add(frozenset((names[id(contact.o1)], names[id(contact.o2)])))
            return False

        manager.collide(None, meet)
        return found

    def stock() -> set[Any]:
        manager = CollisionManager()
        for name, mesh, matrix in rows:
            manager.add_object(name, mesh, matrix)
        _, pairs = manager.in_collision_internal(return_names=True)
        return set(pairs)

    build = best(
        lambda: [CollisionManager().add_object(name, mesh, matrix) for name, mesh, matrix in rows], 2
    )
    shared_build = best(lambda: [trimesh.collision.mesh_to_BVH(mesh) for mesh in meshes.values()], 2)
    pairs = managed()
    managed_s = best(managed, 3)
    return {
        "stock_manager_s": best(stock, 3),
        "stock_pairs": len(stock()),
        "all_pairs_s": managed_s,
        "all_pairs_trees_shared_s": managed_s - build + shared_build,
        "contacts": len(pairs),
        "pairs": pairs,
        "rows": {name: (mesh, matrix) for name, mesh, matrix in rows},
    }


def filtered(pairs: Pairs, rows: dict[str, Any]) -> Pairs:
    """Of the pairs in contact those whose boolean volume exceeds the tolerance, by another library's call."""
    import trimesh

    kept: Pairs = set()
    for pair in pairs:
        a, b = (rows[name][0].copy().apply_transform(rows[name][1]) for name in sorted(pair))
        common = trimesh.boolean.intersection([a, b], engine="manifold", check_volume=False)
        if len(common.faces) and abs(float(common.volume)) > OVERLAP_MM3:
            kept.add(pair)
    return kept


def inside(pair: frozenset[str], rows: dict[str, Any]) -> bool:
    """Whether one part of a pair lies wholly inside the other's material."""
    a, b = (rows[name][0].copy().apply_transform(rows[name][1]) for name in sorted(pair))
    return bool(a.contains(b.vertices).all() or b.contains(a.vertices).all())


def compared(placed: Sequence[PlacedPart], folder: Path) -> dict[str, Any]:
    """Times of both and whether the answers agree."""
    mine, theirs = ours(placed, folder), library(placed, folder)
    rows = theirs.pop("rows")
    mine_pairs, contacts = mine.pop("pairs"), theirs.pop("pairs")
    expected = filtered(contacts, rows)
    unseen = mine_pairs - contacts
    contained = {pair for pair in unseen if inside(pair, rows)}
    return {
        "ours": mine,
        "library": theirs,
        "times_faster_than_stock_manager": theirs["stock_manager_s"] / mine["cold_s"],
        "times_faster_cold": theirs["all_pairs_s"] / mine["cold_s"],
        "times_faster_meshes_ready": theirs["all_pairs_s"] / mine["meshes_ready_s"],
        "times_faster_warm": theirs["all_pairs_s"] / mine["warm_s"],
        "same_answer": mine_pairs - contained == expected,
        "only_ours": sorted(sorted(pair) for pair in mine_pairs - contained - expected),
        "only_library": sorted(sorted(pair) for pair in expected - mine_pairs),
        "contained_pairs_only_ours": len(contained),
    }


def run(machine: Machine) -> dict[str, Any]:
    """The comparison on a loaded machine."""
    return compared(machine.placed, Path(machine.folder))


def peak_kb() -> int:
    """The most memory this process has held. `getrusage` may count the parent's, so Linux's own figure
    comes first."""
    status = Path("/proc/self/status")
    if status.exists():
        for line in status.read_text().splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1])
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def alone(copies: int) -> dict[str, Any]:
    """Ours on copies of the generated machine, with peak memory of the process."""
    from frame_machine import frame_machine

    with tempfile.TemporaryDirectory() as name:
        placed = frame_machine(Path(name), copies)
        before_kb = peak_kb()
        answer = ours(placed, Path(name))
        after_kb = peak_kb()
    answer.pop("pairs")
    return {**answer, "peak_mb": after_kb / 1024, "peak_added_mb": (after_kb - before_kb) / 1024}


def growth(copies: Sequence[int] = (1, 2, 4, 8)) -> dict[str, Any]:
    """How time grows with copies side by side: the exponent of a straight line through the logarithms."""
    rows = [
        json.loads(subprocess.check_output([sys.executable, __file__, "--copies", str(count)]))
        for count in copies
    ]
    logs = np.log([row["parts"] for row in rows])
    slopes = {
        key: float(np.polyfit(logs, np.log([row[key] for row in rows]), 1)[0])
        for key in ("cold_s", "meshes_ready_s", "warm_s")
    }
    steps = {
        key: max(math.log(b[key] / a[key]) / math.log(b["parts"] / a["parts"]) for a, b in pairwise(rows))
        for key in ("warm_s",)
    }
    return {"rows": rows, "exponents": slopes, "steepest_step": steps}


def main() -> None:
    """Prints the report as JSON."""
    from frame_machine import frame_machine

    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--copies", type=int, default=0, help="ours alone on that many copies")
    chosen = parser.parse_args()
    if chosen.copies:
        print(json.dumps(alone(chosen.copies)))
        return
    with tempfile.TemporaryDirectory() as name:
        report = compared(frame_machine(Path(name)), Path(name))
    print(json.dumps({**report, "growth": growth()}, indent=1))


if __name__ == "__main__":
    main()
