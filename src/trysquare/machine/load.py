"""From a machine folder to the effective machine: read, merge papers, place, expand every joint."""

from __future__ import annotations

import dataclasses
import difflib
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path as DiskPath
from typing import Any

from trysquare.catalogue.instruments import instrument_kinds, kind_of
from trysquare.catalogue.unknown import UnknownDesignation
from trysquare.ground.errors import ReadingError, ReadingErrors, Where, nearest
from trysquare.ground.findings import Finding
from trysquare.machine.fields import MACHINE_FILE, RECIPES
from trysquare.machine.folder import files_not_read, folder_digest, read_folder, shape_digest
from trysquare.machine.follow_on import causes_first
from trysquare.machine.names import resolve_aliases
from trysquare.machine.papers import merge_papers
from trysquare.machine.recipes import EXPAND
from trysquare.machine.recipes.builder import JointBuilder
from trysquare.machine.scene import Scene, read_scene
from trysquare.machine.schema import check_table
from trysquare.machine.steps import read_steps
from trysquare.machine.toml_lines import Path
from trysquare.machine.tree import STOPPED, Tree
from trysquare.machine.types import TypeReader
from trysquare.machine.values import Axis, Characteristic, Instrument, Joint, Machine, PlacedPart


def load_machine(folder: str | DiskPath, papers: Sequence[str | DiskPath] = ()) -> Machine:
    """The effective machine of a folder, with `papers` (files outside it) laid over.

    Raises ReadingErrors with all problems when anything cannot be read; what is merely wrong with the
    machine is in `Machine.findings`.
    """
    try:
        return _load(DiskPath(folder), [DiskPath(paper) for paper in papers])
    except ReadingErrors as error:
        raise ReadingErrors(_in_file_order(error.problems)) from None


def _load(path: DiskPath, extra: Sequence[DiskPath]) -> Machine:
    read = read_folder(path, extra)
    problems = read.problems
    if read.unread:  # nearly everything that names something would be a problem
        raise ReadingErrors(problems)
    merged = merge_papers(read)
    tree = merged.tree
    types = TypeReader(
        raw=tree.lines["part"],
        where=tree.where,
        paper=tree.paper,
        shape_digest=lambda name, where: shape_digest(read, name, where),
        problems=problems,
    )
    types.aliases = resolve_aliases(tree, merged.alias_rows, problems)
    types.read_all()
    scene = read_scene(tree, types, problems)
    joints = _joints(tree, scene)
    machine = _machine_table(tree, problems)
    _check_instruments(machine, tree, problems)
    characteristics = _characteristics(machine, scene, tree)
    _check_aligned(joints, tree, scene)
    known = tree.lines["machine"].get("characteristic", {})  # those that are wrong in themselves as well
    steps = read_steps(tree, scene, {joint.id: joint for joint in joints}, known)
    axes = _axes(machine, scene, tree)
    listed, listed_mm = _listed(tree, types)
    if problems:
        raise ReadingErrors(problems)
    used = {part.type.id: part.type for part in scene.parts.values()}
    used |= {part.type.id: part.type for joint in joints for part in joint.brings}
    used |= types.types
    return Machine(
        id=path.resolve().name,
        name=machine.get("name", path.name),
        folder=str(path),
        types=used,
        placed=(*scene.parts.values(), *(part for joint in joints for part in joint.brings)),
        joints=joints,
        units=scene.units,
        steps=steps,
        papers=merged.papers,
        sayings=merged.sayings,
        rulings=merged.rulings,
        aliases=types.aliases,
        axes=axes,
        instruments=tuple(
            Instrument(
                id=name,
                sort=row["sort"],
                half_width_mm=row["half_width_mm"],
                reach_mm=row.get("reach_mm", 0.0),
                source=row.get("source", ""),
                marked=row.get("marked", True),
            )
            for name, row in machine.get("instrument", {}).items()
        ),
        characteristics=tuple(characteristics.values()),
        listed=listed,
        listed_mm=listed_mm,
        findings=(*merged.findings, *scene.findings, *_not_read(path)),
        digest=folder_digest(path, extra),
        tree=tree,
    )


def _check_instruments(machine: Mapping[str, Any], tree: Tree, problems: list[ReadingError]) -> None:
    """A sort that is spelt nearly as one that we know is asked about; any other is the builder's own."""
    known = instrument_kinds()
    for name, row in machine.get("instrument", {}).items():
        sort = row.get("sort", "")
        near = difflib.get_close_matches(sort.casefold(), known, n=1, cutoff=0.75)
        if near and sort not in known and kind_of(sort, row.get("reach_mm", 0.0)) is None:
            problems.append(
                ReadingError(
                    where=tree.where(("machine", "instrument", name, "sort")),
                    read=sort,
                    expected="a sort of instrument",
                    remedy=f"Did you mean '{near[0]}'? Known: {', '.join(known)}; another word is your own.",
                )
            )


def _machine_table(tree: Tree, problems: list[ReadingError]) -> dict[str, Any]:
    """What machine.toml says, papers merged."""
    if ("machine",) not in tree.origins:
        return {}  # the file could not be read: said already
    path: Path = ("machine",)
    table = check_table(tree.lines["machine"], MACHINE_FILE, path, tree.where, problems)
    if table.get("format", 1) != 1:
        problems.append(
            ReadingError(
                where=tree.where((*path, "format")),
                read=table["format"],
                expected="format 1",
                remedy="This folder was written for another Trysquare; use the one it names.",
            )
        )
    return table


def _not_read(path: DiskPath) -> tuple[Finding, ...]:
    """A doubt for each file that looks like the machine's and is not read."""
    return tuple(
        Finding(
            code="file-not-read",
            says=f"{name} is read by nothing.",
            where=Where(file=name),
            remedy="Files are read by their exact names: machine.toml, parts.toml, steps.toml, rulings.toml,"
            " and *.toml in parts, steps, units and papers.",
        )
        for name in files_not_read(path)
    )


def _in_file_order(problems: Sequence[ReadingError]) -> list[ReadingError]:
    """Causes first, by file and line, each once; that there are too many to go on is said last."""
    unique = {str(problem): problem for problem in problems}
    stopped = [problem for problem in unique.values() if problem.read == STOPPED]
    return [*causes_first([one for one in unique.values() if one.read != STOPPED]), *stopped]


def _joints(tree: Tree, scene: Scene) -> tuple[Joint, ...]:
    joints: list[Joint] = []
    for unit, raw in tree.lines["unit"].items():
        for name, row in raw.get("joint", {}).items():
            path: Path = ("unit", unit, "joint", name)
            joint = _joint(f"{unit}/{name}", unit, row, path, scene)
            if joint is None:
                scene.broken_joints.add(f"{unit}/{name}")
                continue
            joints.append(_said(joint, path, tree))
    names = {joint.id for joint in joints}
    for joint in joints:
        if joint.belt and joint.belt.equal_to not in {"", *names, *scene.broken_joints}:
            scene.problems.append(
                ReadingError(
                    where=tree.where(("unit", joint.unit, "joint", joint.id.rpartition("/")[2], "equal_to")),
                    read=joint.belt.equal_to,
                    expected="a belt-path joint",
                    remedy=nearest(joint.belt.equal_to, names),
                )
            )
    return tuple(joints)


def _said(joint: Joint, path: Path, tree: Tree) -> Joint:
    """The joint, and what it brings, with the place and the paper that say it.

    A paper may change the screw alone: each piece has the paper of its own key.
    """
    sources = {
        sort: (tree.where((*path, sort)), tree.paper((*path, sort)))
        for sort in {_sort_of(part.id) for part in joint.brings}
    }
    brings: list[PlacedPart] = []
    for part in joint.brings:
        where, paper = sources[_sort_of(part.id)]
        brings.append(dataclasses.replace(part, where=where, paper=paper))
    return dataclasses.replace(joint, where=tree.where(path), paper=tree.paper(path), brings=tuple(brings))


def _sort_of(identity: str) -> str:
    """What a brought piece is, which is also the key that asks for it, such as screw, nut or washer."""
    return identity.rpartition("/")[2].partition(".")[0]


def _check_aligned(joints: Sequence[Joint], tree: Tree, scene: Scene) -> None:
    known = tree.lines["machine"].get("characteristic", {})
    for joint in joints:
        if joint.align and joint.align not in known:
            scene.problems.append(
                ReadingError(
                    where=tree.where(("unit", joint.unit, "joint", joint.id.rpartition("/")[2], "align")),
                    read=joint.align,
                    expected="a characteristic of machine.toml",
                    remedy=nearest(joint.align, known),
                )
            )


def _joint(identity: str, unit: str, row: Any, path: Path, scene: Scene) -> Joint | None:
    recipe = row.get("recipe") if isinstance(row, dict) else None
    if not isinstance(recipe, str) or recipe not in RECIPES:
        scene.problems.append(
            ReadingError(
                where=scene.where((*path, "recipe")),
                read=recipe if recipe is not None else "no recipe",
                expected="a recipe: " + ", ".join(RECIPES),
                remedy=nearest(str(recipe)[:60], RECIPES) if recipe else 'Add recipe = "…".',
            )
        )
        return None
    before, met_types = len(scene.problems), scene.types.met_broken
    checked = check_table(row, RECIPES[recipe], path, scene.where, scene.problems)
    if len(scene.problems) > before:
        return None
    builder = JointBuilder(id=identity, unit=unit, recipe=recipe, raw=checked, path=path, scene=scene)
    met_broken = scene.met_broken
    try:
        EXPAND[recipe](builder)
    except UnknownDesignation as error:  # a thread that no table holds, met while its screws are laid out
        key = next((each for each in ("screw", "nut") if each in checked), "recipe")
        builder.problem(key, str(checked[key]), error.expected, error.remedy)
    if len(scene.problems) > before or scene.met_broken > met_broken or scene.types.met_broken > met_types:
        scene.broken_joints.add(identity)  # some of its screws may be missing
    return builder.done()


def _characteristics(machine: dict[str, Any], scene: Scene, tree: Tree) -> dict[str, Characteristic]:
    found: dict[str, Characteristic] = {}
    for name, row in machine.get("characteristic", {}).items():
        path: Path = ("machine", "characteristic", name)
        if not all(key in row for key in ("sort", "of", "limit", "unit")):
            continue
        parts = scene.find_all(row["of"], "", tree.where((*path, "of")))
        found[name] = Characteristic(
            id=name,
            sort=row["sort"],
            of=tuple(part.id for part in parts),
            limit=row["limit"],
            unit=row["unit"],
            reason=row.get("reason", ""),
            against=tuple(
                part.id for part in scene.find_all(row.get("against", ()), "", tree.where((*path, "against")))
            ),
        )
    return found


def _axes(machine: dict[str, Any], scene: Scene, tree: Tree) -> tuple[Axis, ...]:
    axes: list[Axis] = []
    for name, row in machine.get("axis", {}).items():
        path: Path = ("machine", "axis", name)
        if not all(key in row for key in ("travel_mm", "direction", "moves")):
            continue
        if row.get("at_mm", 0.0) > row["travel_mm"]:
            scene.problems.append(
                ReadingError(
                    where=tree.where((*path, "at_mm")),
                    read=row["at_mm"],
                    expected=f"a place within the travel of {row['travel_mm']:g} mm",
                    remedy="at_mm counts from the axis' beginning.",
                )
            )
        parts = scene.find_all(row["moves"], "", tree.where((*path, "moves")))
        axes.append(
            Axis(
                id=name,
                travel_mm=row["travel_mm"],
                direction=row["direction"],
                moves=tuple(part.id for part in parts),
                at_mm=row.get("at_mm", 0.0),
            )
        )
    return tuple(axes)


def _listed(tree: Tree, types: TypeReader) -> tuple[dict[str, int], dict[str, tuple[tuple[int, float], ...]]]:
    """Pieces of each part of the list, and of rows that say a length the pieces and the length of each."""
    pieces: Counter[str] = Counter()
    lengths: dict[str, tuple[tuple[int, float], ...]] = {}
    for row in tree.list_rows:
        part_type = types.find(row.part, row.where)
        if part_type is not None:
            pieces[part_type.id] += row.pieces
            types.types.setdefault(part_type.id, part_type)
            if row.length_mm and row.pieces:
                lengths[part_type.id] = (*lengths.get(part_type.id, ()), (row.pieces, row.length_mm))
    return dict(pieces), lengths
