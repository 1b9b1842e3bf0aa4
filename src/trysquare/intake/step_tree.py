"""The tree of a STEP file: which solids stand where, under which names and colours."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trysquare.ground.placement import Placement
from trysquare.intake.bodies import Colour, Problem
from trysquare.intake.limits import DEEPEST_NESTING, MOST_BODIES, trouble
from trysquare.intake.sewing import sewn
from trysquare.intake.step_document import opened
from trysquare.intake.step_labels import colour_of, entry_of, location_of, name_of, placement_of

if TYPE_CHECKING:
    from OCP.TopoDS import TopoDS_Shape

MOST_LUMPS = 12  # a part of more solids is an assembly that was flattened


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Leaf:
    """One placed solid, or a surface body when `solid` is None. `key` is the same for repeats of one solid.

    `placement` takes the solid's coordinates to the file's world. `part_name`: of the part it belongs to.
    `part`, `use`: numbers of a part of several solids without names of their own, and of this use of it, when
    the part is one of an assembly; -1 otherwise. `within`: number of the sub-assembly's use it stands in.
    """

    name: str
    part_name: str
    path: tuple[str, ...]
    key: int
    solid: TopoDS_Shape | None
    placement: Placement
    colour: Colour | None
    part: int = -1
    use: int = -1
    within: int = -1

    @staticmethod
    def alone(shape: TopoDS_Shape, name: str) -> Leaf:
        """The first solid of a shape of the kernel, where it is."""
        from OCP.TopAbs import TopAbs_SOLID
        from OCP.TopExp import TopExp_Explorer

        found = TopExp_Explorer(shape, TopAbs_SOLID)
        solid = found.Current() if found.More() else None
        return Leaf(
            name=name, part_name=name, path=(), key=0, solid=solid, placement=Placement(), colour=None
        )


@dataclass(slots=True, eq=False)
class _Tree:
    """What is carried along while the tree is walked."""

    shapes: Any
    colours: Any
    file_name: str
    alone: Callable[[Any], bool]
    parts: dict[Any, list[_Piece]] = field(default_factory=dict)
    solids: dict[Any, int] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    count: int = 0
    is_flat: bool = False  # one part holds all there is
    uses: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """A solid within a part: where it stands there; None for surfaces."""

    key: int
    solid: Any
    placement: Placement
    name: str
    colour: Colour | None


def leaves_of_file(
    path: Path,
    alone: Callable[[Any], bool] = lambda _solid: False,
    keep: list[object] | None = None,
) -> tuple[list[Leaf], str, list[Problem]]:
    """All placed solids of a STEP file in the order of its tree, its length unit, and what was noticed.

    A part of several solids is one of several lumps, unless the file is that part alone, or `alone` says of
    a solid that it is a part by itself. `keep` is given what the kernel read: taking it apart takes a while.
    """
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    document, unit, problems = opened(path, keep)
    tree = _Tree(
        shapes=XCAFDoc_DocumentTool.ShapeTool_s(document.Main()),
        colours=XCAFDoc_DocumentTool.ColorTool_s(document.Main()),
        file_name=path.name,
        problems=problems,
        alone=alone,
    )
    free = _free(tree)
    tree.is_flat = len(free) == 1 and not tree.shapes.IsAssembly_s(free[0])
    leaves = [leaf for label in free for leaf in _walk(tree, label, label, (), Placement(), None, ())]
    return leaves, unit, problems


def _free(tree: _Tree) -> list[Any]:
    from OCP.collections import Sequence_TDF_Label

    found = Sequence_TDF_Label()
    tree.shapes.GetFreeShapes(found)
    return list(found)


def _walk(
    tree: _Tree,
    instance: Any,
    label: Any,
    path: tuple[str, ...],
    placement: Placement,
    colour: Colour | None,
    above: tuple[str, ...],
    within: int = -1,
) -> Iterator[Leaf]:
    """The leaves under a label: `instance` is its use, `label` what is used, `above` where it lies."""
    from OCP.collections import Sequence_TDF_Label
    from OCP.TDF import TDF_Label
    from OCP.XCAFDoc import XCAFDoc_ShapeTool

    entry = entry_of(label)
    name = name_of(instance) or name_of(label)
    part_name = name_of(label)
    if part_name and name.startswith(("=>[", "NAUO")):
        name = part_name
    if entry in above or len(above) > DEEPEST_NESTING:
        tree.problems.append(
            Problem(code="refers-to-itself", says=f"'{name}' contains itself; the inner one was left out.",
                    remedy="Break the circle in the CAD program.", names=(name,))
        )  # fmt: skip
        return
    own = colour_of(tree.colours, instance) or colour_of(tree.colours, label) or colour
    if not XCAFDoc_ShapeTool.IsAssembly_s(label):
        tree.uses += 1
        use = tree.uses if above else -1
        pieces = _pieces(tree, label, name, part_name, path, placement, own, use)
        yield from (replace(piece, within=within) for piece in pieces)
        return
    tree.uses += 1
    here = tree.uses
    components = Sequence_TDF_Label()
    XCAFDoc_ShapeTool.GetComponents_s(label, components, False)
    for component in components:
        target = TDF_Label()
        if not XCAFDoc_ShapeTool.GetReferredShape_s(component, target):
            continue
        inner = placement_of(XCAFDoc_ShapeTool.GetLocation_s(component).Transformation())
        if inner is None:
            _mirrored(tree, component)
            continue
        lies = (*above, entry)
        yield from _walk(tree, component, target, (*path, name), placement.then(inner), own, lies, here)


def _pieces(
    tree: _Tree,
    label: Any,
    name: str,
    part_name: str,
    path: tuple[str, ...],
    placement: Placement,
    colour: Colour | None,
    use: int,
) -> Iterator[Leaf]:
    entry = entry_of(label)
    if entry not in tree.parts:
        tree.parts[entry] = _solids_of(tree, label)
    pieces = tree.parts[entry]
    if not pieces:
        tree.problems.append(Problem(code="empty-branch", says=f"'{name}' holds no body.", names=(name,)))
    is_one = use >= 0 and len(pieces) > 1 and not any(piece.name for piece in pieces)
    part = list(tree.parts).index(entry) if is_one else -1
    for piece in pieces:
        tree.count += 1
        if tree.count > MOST_BODIES:
            raise trouble(
                tree.file_name, f"more than {MOST_BODIES} bodies", f"at most {MOST_BODIES}",
                "Export one sub-assembly a file.",
            )  # fmt: skip
        several = len(pieces) > 1
        yield Leaf(
            name=piece.name or name,
            part_name=piece.name or part_name,
            path=(*path, name) if several and piece.name else path,
            key=piece.key,
            solid=piece.solid,
            placement=placement.then(piece.placement),
            colour=piece.colour or colour,
            part=part,
            use=use if is_one else -1,
        )


def _solids_of(tree: _Tree, label: Any) -> list[_Piece]:
    """The solids in a part, each with its place in it, then its loose shells as one surface body."""
    from OCP.TopAbs import TopAbs_FACE, TopAbs_SHELL, TopAbs_SOLID
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopLoc import TopLoc_Location
    from OCP.XCAFDoc import XCAFDoc_ShapeTool

    shape = XCAFDoc_ShapeTool.GetShape_s(label)
    pieces: list[_Piece] = []
    explorer = TopExp_Explorer(shape, TopAbs_SOLID)
    while explorer.More():
        found = explorer.Current()
        explorer.Next()
        inner = placement_of(found.Location().Transformation())
        name, colour = _of_piece(tree, label, found)
        if inner is None:  # mirrored or scaled: the solid as it stands, made anew
            solid, inner = _baked(found), Placement()
        else:
            solid = found.Located(TopLoc_Location())
        pieces.append(_Piece(_key(tree, solid), solid, inner, name, colour))
    if 1 < len(pieces) <= MOST_LUMPS and not tree.is_flat and not any(tree.alone(p.solid) for p in pieces):
        pieces = [_lumped(tree, pieces)]
    loose = _loose(shape, TopAbs_SHELL, TopAbs_SOLID) + _loose(shape, TopAbs_FACE, TopAbs_SHELL)
    if loose:
        solids, left = sewn(loose)
        pieces += [_Piece(_key(tree, solid), solid, Placement(), name_of(label), None) for solid in solids]
        if solids:
            tree.problems.append(
                Problem(code="sewn", names=(name_of(label),),
                        says=f"'{name_of(label)}' came as faces that share no edges; they meet, and were sewn"
                             " into a solid.")
            )  # fmt: skip
        if left:
            pieces.append(_Piece(-1, None, Placement(), name_of(label), None))
    return pieces


def _lumped(tree: _Tree, pieces: list[_Piece]) -> _Piece:
    """The solids of one part as one body of several lumps."""
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Compound

    builder, whole = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(whole)
    for piece in pieces:
        builder.Add(whole, piece.solid.Located(location_of(piece.placement)))
    colours = {piece.colour for piece in pieces}
    return _Piece(_key(tree, whole), whole, Placement(), "", colours.pop() if len(colours) == 1 else None)


def _loose(shape: Any, kind: Any, not_in: Any) -> list[Any]:
    """The parts of one kind that are not in a larger one."""
    from OCP.TopExp import TopExp_Explorer

    explorer = TopExp_Explorer(shape, kind, not_in)
    found = []
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    return found


def _key(tree: _Tree, solid: Any) -> int:
    # the binding hands out one object for one body of the kernel, as long as somebody holds it
    return tree.solids.setdefault(solid.TShape(), len(tree.solids))


def _baked(shape: Any) -> Any:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.TopLoc import TopLoc_Location

    move = shape.Location().Transformation()
    return BRepBuilderAPI_Transform(shape.Located(TopLoc_Location()), move, True).Shape()


def _of_piece(tree: _Tree, label: Any, shape: Any) -> tuple[str, Colour | None]:
    from OCP.TDF import TDF_Label

    below = TDF_Label()
    name = name_of(below) if tree.shapes.FindSubShape(label, shape, below) else ""
    return name, colour_of(tree.colours, shape)


def _mirrored(tree: _Tree, component: Any) -> None:
    name = name_of(component)
    tree.problems.append(
        Problem(code="mirrored-placement", names=(name,),
                says=f"'{name}' is placed by mirroring or scaling; it was left out.",
                remedy="Make the mirrored part a part of its own in the CAD program.")
    )  # fmt: skip
