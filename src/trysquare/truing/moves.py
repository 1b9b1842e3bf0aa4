"""How a frame gives when somebody pushes it: snug joints slip, final ones hold.

A joint slips the more the more play it has, so pushed at one spot the frame takes the shape with the least
sum of squared slips, each over its play. That is the same least-squares problem as the adjustment's, with the
joints alone: the answer to a push of size δ along a is ``x = M a / (aᵀ M a) · δ``, M the inverse of the
joints' normal matrix. Derived here; it takes friction to be alike in all snug joints.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import linalg, sparse

from trysquare.ground.placement import Array
from trysquare.sequence.state import Tightness
from trysquare.truing.model import Model
from trysquare.truing.standing import Standing, tightness_of

UNLIKE = 0.3  # a joint slips by a third more or less easily than its play says. common practice, no source
UNLIKE_SETS = 48
HELD_SHARE = 1e-3  # a final joint gives so much of its play
PRESSES = 1.0  # normal slip over its play for 1 mm of a push: more presses faces together, which do not give
PUSH_MM = 0.03  # how exactly a person moves an end against a dial gauge, ± this. maker sheets of the gauge


@dataclass(frozen=True, slots=True, kw_only=True)
class Handle:
    """Where somebody pushes: an end of a body and a direction, machine frame. `sign`: −1 end a, +1 end b.

    `link`: the link to another body that is held, from which the way is measured, −1 for a push against the
    ground; `along`: the column of the link's axes that the linked end slides along, 0 where the body's far
    end is swung about its link.
    """

    body: int
    sign: float
    at_mm: tuple[float, float, float]
    way: tuple[float, float, float]
    link: int = -1
    along: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Give:
    """How the frame answers. `handles` (h); `answers` (n, h): change of all unknowns for 1 mm of each push;
    `unlike`: the same for a few frames whose joints slip unlike; `slips` (l, 6, h): of each link, over its
    play."""

    handles: tuple[Handle, ...]
    answers: Array
    unlike: tuple[Array, ...]
    slips: Array
    loose: tuple[bool, ...]  # of each link

    def only(self, kept: Sequence[int]) -> Give:
        """The same frame with these of its handles, by their numbers."""
        chosen = list(kept)
        return replace(
            self,
            handles=tuple(self.handles[index] for index in chosen),
            answers=self.answers[:, chosen],
            unlike=tuple(one[:, chosen] for one in self.unlike),
            slips=self.slips[:, :, chosen],
        )


def give_of(
    model: Model,
    matrix: sparse.csr_matrix,
    standing: Standing,
    also_loose: Collection[int] = (),
    *,
    presses: float = PRESSES,
) -> Give:
    """The frame's answers to pushes at all ends that can move. `matrix`: rates at the adjusted shape.
    `also_loose`: numbers of final links taken as loosened. `presses`: how far a push may press faces."""
    assembly = model.assembly
    loose = tuple(
        index in also_loose
        or tightness_of(assembly.machine, link.joint, link.screws, standing) < Tightness.FINAL
        for index, link in enumerate(assembly.links)
    )
    columns = body_columns(model)
    slip = slip_matrix(model, matrix, columns)
    share = np.repeat([1.0 if one else HELD_SHARE for one in loose], 6)
    ground = _ground(model, loose)
    handles = (*_handles(model, ground), *_slides(model, loose), *_swings(model, loose, ground))
    if not handles:
        nothing = np.zeros((model.equations.unknowns, 0))
        return Give(handles=(), answers=nothing, unlike=(), slips=np.zeros((len(loose), 6, 0)), loose=loose)
    ways = np.array([_rates(model, matrix, one, columns) for one in handles])
    moved = _moved(compliance(slip, share), ways)
    slips = (slip @ moved).reshape(len(loose), 6, len(handles))
    kept = np.flatnonzero(np.abs(slips[:, 0, :]).max(axis=0, initial=0.0) <= presses)
    unlike = [_moved(compliance(slip, share * one), ways[kept]) for one in _frictions(len(share))]
    return Give(
        handles=tuple(handles[index] for index in kept),
        answers=_whole(model, columns, moved[:, kept]),
        unlike=tuple(_whole(model, columns, one) for one in unlike),
        slips=slips[:, :, kept],
        loose=loose,
    )


def _moved(give: Array, ways: Array) -> Array:
    """Answers (c, h) to 1 mm of each push (h, c)."""
    pushed = give @ ways.T
    answers: Array = pushed / np.maximum((ways * pushed.T).sum(axis=1), 1e-12)
    return answers


def _whole(model: Model, columns: Array, moved: Array) -> Array:
    answers = np.zeros((model.equations.unknowns, moved.shape[1]))
    answers[columns] = moved
    return answers


def _frictions(count: int) -> Array:
    """A few sets of joints that slip unlike each other, always the same ones."""
    chance = np.random.Generator(np.random.PCG64(1))
    found: Array = np.exp(chance.normal(0, UNLIKE, (UNLIKE_SETS, count)))
    return found


def pressed(model: Model, matrix: sparse.csr_matrix, standing: Standing, rates: Array) -> Array:
    """How the unknowns (n,) change when a component with these rates (n,) is brought down by 1: the joints
    slip as little as they can. For what a flat plate does to a frame that is pressed onto it."""
    assembly = model.assembly
    share = [
        1.0
        if tightness_of(assembly.machine, link.joint, link.screws, standing) < Tightness.FINAL
        else HELD_SHARE
        for link in assembly.links
    ]
    columns = body_columns(model)
    give = compliance(slip_matrix(model, matrix, columns), np.repeat(share, 6))
    along = give @ rates[columns]
    answer = np.zeros(model.equations.unknowns)
    answer[columns] = -along / max(float(rates[columns] @ along), 1e-12)
    return answer


def body_columns(model: Model) -> Array:
    """Columns of all bodies' displacements and turns, but for the one that is held."""
    found = [
        model.builder.column(body, place) for body in range(len(model.assembly.bodies)) for place in range(6)
    ]
    return np.array([column for column in found if not model.held[column]], dtype=np.int64)


def slip_matrix(model: Model, matrix: sparse.csr_matrix, columns: Array) -> Array:
    """Slip of every link over its play, (6 l, c): how the joints see a change of the bodies."""
    rows = matrix[model.joint_rows.ravel()][:, columns].toarray()
    play = np.array([np.r_[link.play.shift_mm, link.play.turn_rad] for link in model.assembly.links])
    dense: Array = rows / play.ravel()[:, None]
    return dense


def compliance(slip: Array, share: Array) -> Array:
    """Inverse of the joints' normal matrix, with each row (6 l,) of the links giving a share of its play."""
    weighed = slip / share[:, None]
    normal = weighed.T @ weighed
    # what nothing holds may go anywhere, but not without end
    normal[np.diag_indices_from(normal)] += 1e-6 * np.maximum(np.diagonal(normal), 1e-9)
    factor = linalg.cho_factor(normal, lower=True)
    inverse: Array = linalg.cho_solve(factor, np.eye(len(normal)))
    return inverse


def _ground(model: Model, loose: tuple[bool, ...]) -> frozenset[int]:
    """Bodies that final joints tie to the one that is held: pushing them moves the whole."""
    held = next(
        (body for body in range(len(model.assembly.bodies)) if model.held[model.builder.column(body)]), -1
    )
    ground = {held}
    growing = True
    while growing:
        growing = False
        for link, one_is_loose in zip(model.assembly.links, loose, strict=True):
            if not one_is_loose and (link.one in ground) != (link.other in ground) and not link.play.runs:
                ground |= {link.one, link.other}
                growing = True
    return frozenset(ground)


def _handles(model: Model, ground: frozenset[int]) -> list[Handle]:
    """Both ends of every member and rail that can move, along the two directions across it."""
    found: list[Handle] = []
    linked = {number for link in model.assembly.links for number in (link.one, link.other)}
    for number, body in enumerate(model.assembly.bodies):
        if number in ground or number not in linked or not body.has_ends:
            continue
        found += [*_end_handles(model, number, -1.0), *_end_handles(model, number, 1.0)]
    return found


def _end_handles(model: Model, number: int, sign: float, link: int = -1) -> list[Handle]:
    """One end of a body, along the two directions across it."""
    body = model.assembly.bodies[number]
    at = body.centre_mm + sign * body.length_mm / 2 * body.along
    found = []
    for axis in (1, 2):
        way = body.placed.placement.turn[:, axis]
        way = way * np.sign(way[np.argmax(np.abs(way))])
        found.append(
            Handle(
                body=number,
                sign=sign,
                at_mm=(float(at[0]), float(at[1]), float(at[2])),
                way=(float(way[0]), float(way[1]), float(way[2])),
                link=link,
            )
        )
    return found


def _swings(model: Model, loose: tuple[bool, ...], ground: frozenset[int]) -> list[Handle]:
    """Far ends swung about the loose joint of the other end, the way measured from the body they stand on.

    What other joints do counts less then: it is the angle of the two that is set, not a place on the table.
    Where the body they stand on cannot move, that is a push against the ground already.
    """
    found: list[Handle] = []
    for number, (link, one) in enumerate(zip(model.assembly.links, loose, strict=True)):
        if one and link.end and link.other not in ground and model.assembly.bodies[link.one].has_ends:
            found += _end_handles(model, link.one, 1.0 if link.end == "a" else -1.0, number)
    return found


def _slides(model: Model, loose: tuple[bool, ...]) -> list[Handle]:
    """Every loose end that can be slid on what it stands on, along its two directions."""
    found: list[Handle] = []
    for number, (link, one) in enumerate(zip(model.assembly.links, loose, strict=True)):
        if not one or not link.end:
            continue
        for along in (1, 2):
            way = link.axes[:, along]
            way = way * np.sign(way[np.argmax(np.abs(way))])
            at = link.at_mm
            found.append(
                Handle(
                    body=link.one,
                    sign=-1.0 if link.end == "a" else 1.0,
                    at_mm=(float(at[0]), float(at[1]), float(at[2])),
                    way=(float(way[0]), float(way[1]), float(way[2])),
                    link=number,
                    along=along,
                )
            )
    return found


def _rates(model: Model, matrix: sparse.csr_matrix, handle: Handle, columns: Array) -> Array:
    """How the pushed spot moves along the push with the bodies' unknowns, (c,)."""
    if handle.link >= 0 and handle.along:
        slid: Array = matrix[model.joint_rows[handle.link, handle.along]].toarray()[0][columns]
        link = model.assembly.links[handle.link]
        return slid * float(np.sign(link.axes[:, handle.along] @ np.array(handle.way)))
    rates = np.zeros(model.equations.unknowns)
    way = np.array(handle.way)
    moving = [(handle.body, 1.0)]
    if handle.link >= 0:
        moving.append((model.assembly.links[handle.link].other, -1.0))
    for body, sign in moving:
        first = model.builder.column(body)
        arm = np.array(handle.at_mm) - model.assembly.bodies[body].centre_mm
        rates[first : first + 3] += sign * way
        rates[first + 3 : first + 6] += sign * np.cross(arm, way)
    chosen: Array = rates[columns]
    return chosen
