"""Ways a part can go in wrong and nobody notices at once: turned in its place, its twin, its look-alike.

A way counts when the wrong part takes the same box, crosses nothing that stands there when it comes,
and every joint made in that same step can still be made. What notices it later, and how many steps must
then be undone, is what it costs. A pose that looks the same as the right one is no mistake.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from trysquare.ground.findings import Finding
from trysquare.ground.placement import Placement, Triple
from trysquare.machine.values import Joint, Kind, Machine, PartType, PlacedPart
from trysquare.sequence.asks import Ask, asks_of
from trysquare.sequence.misses import Miss, unmet
from trysquare.sequence.poses import Differences, by_plainness, pose_words, poses, same_box, unique_poses
from trysquare.sequence.reach import Reach
from trysquare.sequence.surroundings import Surroundings
from trysquare.sequence.telling import Telling, telling
from trysquare.sequence.timeline import Timeline
from trysquare.solid.shapes import makes_solid, solid_of

STRUCTURAL = frozenset({Kind.MEMBER, Kind.PLATE, Kind.PRINTED, Kind.BOUGHT, Kind.GUIDE, Kind.DRIVE})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WrongWay:
    """One way a part can go in wrong.

    `sort`: "turned", "mirrored twin" or "look-alike". `way`: "end for end", "upside down" …; `instead`: id
    of the part type wrongly taken, "" for the right one. `placement` is where the wrong part stands.
    `code` names what fails first ("" for nothing), `joint` the joint it fails in, `noticed` the step that
    notices ("" for none). `steps_to_undo` counts the steps from placing to noticing; when something
    fails that nobody notices, all steps from placing on; 0 when nothing in the order depends on it, or
    without steps.
    `consequence` and `tells` are sentences: what happens, and the feature to look at; `tells_at_mm`:
    points in the machine at which that feature can be seen, none when it is at no one place.
    """

    part: str
    part_type: str
    step: str
    sort: str
    way: str
    instead: str
    placement: Placement
    code: str
    joint: str
    noticed: str
    steps_to_undo: int
    consequence: str
    tells: str
    tells_at_mm: tuple[Triple, ...] = ()

    @property
    def never_noticed(self) -> bool:
        """No step notices it."""
        return not self.noticed


def wrong_ways(machine: Machine, reach: Reach | None = None) -> tuple[WrongWay, ...]:
    """All ways to put a structural part in wrongly that its own step does not notice, costliest first.

    Without steps nothing is known of when; then whatever fits between the finished machine's parts
    counts, with cost 0. Parts that no step places, and parts without a solid, are left out.
    """
    if reach is None:
        reach = Reach(machine)
    search = _Search(machine, reach)
    found: list[WrongWay] = []
    for part in machine.placed:
        if search.counts(part):
            found += search.of_part(part)
    order = {part.id: index for index, part in enumerate(machine.placed)}
    found.sort(key=lambda way: (-way.steps_to_undo, way.code == "", order[way.part]))
    return tuple(found)


def wrong_findings(ways: Sequence[WrongWay]) -> tuple[Finding, ...]:
    """The ways that cost something as findings, in the same order."""
    return tuple(
        Finding(
            code="can-go-in-wrong",
            says=f"{way.part} also goes in {_how(way)}: {way.consequence}",
            parts=(way.part,),
            joint=way.joint,
            step=way.step,
            value=float(way.steps_to_undo),
            limit=0.0,
            unit="steps",
            remedy=way.tells,
        )
        for way in ways
        if way.steps_to_undo > 0
    )


def _how(way: WrongWay) -> str:
    return f"as {way.instead}, {way.way}" if way.instead else way.way


class _Search:
    """What is looked up again and again while the parts are tried."""

    def __init__(self, machine: Machine, reach: Reach) -> None:
        self.machine, self.reach = machine, reach
        self.timeline = Timeline(machine, reach)
        self.differences = Differences(machine.folder)
        self.joints: dict[str, list[Joint]] = {}
        for joint in machine.joints:
            for part in joint.parts:
                self.joints.setdefault(part, []).append(joint)
        self.types = self._types()
        self.round = Surroundings(machine, reach, self.timeline)

    def counts(self, part: PlacedPart) -> bool:
        """Whether a part can be tried: structural, with a solid, and placed where there are steps."""
        if part.joint or part.type.kind not in STRUCTURAL or not makes_solid(part.type):
            return False
        return part.id in self.timeline.comes or not self.machine.steps

    def _types(self) -> list[PartType]:
        found: dict[int, PartType] = {}
        for part in self.machine.placed:
            if not part.joint and part.type.kind in STRUCTURAL and makes_solid(part.type):
                found.setdefault(id(part.type), part.type)
        return list(found.values())

    # -- candidates -----------------------------------------------------------------------------

    def of_part(self, part: PlacedPart) -> Iterator[WrongWay]:
        asks = asks_of(self.machine, part, self.joints.get(part.id, ()), self.timeline)
        own = solid_of(part.type, self.machine.folder)
        turned = by_plainness(part.placement, poses(own, own)[1:])
        if not any(ask.sort == "point" for ask in asks):  # a terminal's side can be the only difference
            turned = unique_poses(part.type, turned, self.differences)
        for pose in turned:
            way = self._try(part, part.type, pose, asks)
            if way is not None:
                yield way
        for other in self.types:
            if other is not part.type:
                way = self._other(part, other, asks)
                if way is not None:
                    yield way

    def _other(self, part: PlacedPart, other: PartType, asks: Sequence[Ask]) -> WrongWay | None:
        """How another type goes into a part's place: the way round in which it fails least, for that is how
        a person would put it; None when it does not go in, or does as well."""
        folder = self.machine.folder
        if other.kind is not part.type.kind:
            return None
        own, wrong = solid_of(part.type, folder), solid_of(other, folder)
        if not same_box(own, wrong):
            return None
        ways = poses(own, wrong)
        if any(self.differences.between(part.type, other, pose).same for pose in ways):
            return None  # the two are interchangeable

        def failing(pose: Placement) -> int:
            return sum(unmet(ask, part.type, other, pose) is not None for ask in asks)

        tried = (self._try(part, other, pose, asks) for pose in sorted(ways, key=failing))
        return next((way for way in tried if way is not None), None)

    # -- one pose -------------------------------------------------------------------------------

    def _try(
        self, part: PlacedPart, wrong: PartType, pose: Placement, asks: Sequence[Ask]
    ) -> WrongWay | None:
        """The wrong way, or None when it looks right, does not fit or is noticed in its own step."""
        difference = self.differences.between(part.type, wrong, pose)
        misses = [miss for ask in asks if (miss := unmet(ask, part.type, wrong, pose)) is not None]
        if difference.same and not misses:
            return None
        step = self._step(self.timeline.comes.get(part.id)) if self.machine.steps else -1
        soonest = min((self._step(miss.event) for miss in misses), default=len(self.machine.steps))
        if soonest <= step:
            return None
        solid, placement = solid_of(wrong, self.machine.folder), part.placement.then(pose)
        # Whatever meets the wrong part only after something else has failed changes nothing.
        clashes = self.round.clashes(part, solid, placement, step, soonest)
        if clashes is None:
            return None
        misses += [*clashes, *self.round.closed_keys(part, solid, placement, soonest)]
        misses.sort(key=lambda miss: self._step(miss.event))
        if misses and self._step(misses[0].event) <= step:
            return None
        feature = telling(part, wrong, pose, difference, misses[:1], self.machine.folder)
        return self._told(part, wrong, pose, step, misses[0] if misses else None, feature)

    def _step(self, event: int | None) -> int:
        return self.timeline.step(event)

    def _told(
        self,
        part: PlacedPart,
        wrong: PartType,
        pose: Placement,
        step: int,
        miss: Miss | None,
        feature: Telling,
    ) -> WrongWay:
        steps = self.machine.steps
        late = self._step(miss.event) if miss is not None else len(steps)
        fails = miss is not None and (miss.event is not None or miss.silent)
        undo = late - step if fails and steps else 0
        sort = "turned"
        if wrong is not part.type:
            twin = {part.type.hand, wrong.hand} == {"left", "right"}
            sort = "mirrored twin" if twin else "look-alike"
        return WrongWay(
            part=part.id,
            part_type=part.type.id,
            step=steps[step].id if steps else "",
            sort=sort,
            way=pose_words(part.type, part.placement, pose),
            instead="" if wrong is part.type else wrong.id,
            placement=part.placement.then(pose),
            code=miss.code if miss is not None else "",
            joint=miss.joint if miss is not None else "",
            noticed=steps[late].id if late < len(steps) else "",
            steps_to_undo=undo,
            consequence=self._consequence(part, wrong, miss, late, undo),
            tells=feature.says,
            tells_at_mm=feature.at_mm,
        )

    def _consequence(self, part: PlacedPart, wrong: PartType, miss: Miss | None, late: int, undo: int) -> str:
        steps = self.machine.steps
        if miss is not None and late < len(steps):
            after = "one step later" if undo == 1 else f"{undo} steps later"
            return f"noticed {after}, in {steps[late].id}: {miss.says}."
        if miss is not None and miss.silent:
            return f"no step notices it: {miss.says}."
        if miss is not None:
            return f"noticed when its joint is made{', which no step does' if steps else ''}: {miss.says}."
        if wrong is not part.type:
            return f"nothing here depends on it, but then {wrong.name} is missing in its own place."
        return "nothing in this machine depends on it, as far as the description tells."
