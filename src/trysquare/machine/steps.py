"""Steps: an author's order with every name resolved to placed parts and joints."""

from __future__ import annotations

import fnmatch
from collections.abc import Mapping
from typing import Any

from trysquare.ground.errors import ReadingError, nearest
from trysquare.ground.placement import DIRECTIONS
from trysquare.machine.fields import STEP
from trysquare.machine.scene import Scene
from trysquare.machine.schema import check_table
from trysquare.machine.toml_lines import Path
from trysquare.machine.tree import Tree
from trysquare.machine.values import VERBS, Action, Joint, Step

JOINT_VERBS = frozenset({"insert", "start", "snug", "tighten", "press", "route", "crimp"})
"""Verbs done to joints; the others take parts, joints or, for note and check, only words."""
_ONLY_WITH = {
    "gap_mm": frozenset({"start"}),
    "means": frozenset({"hold"}),
    "matters": frozenset({"check"}),
    "order": JOINT_VERBS,
    "toward": frozenset({"place", "turn"}),
}
"""Keys that mean nothing with other verbs."""
_WORDS_ONLY = frozenset({"note", "check", "sign-off", "turn", "wait"})


def read_steps(
    tree: Tree, scene: Scene, joints: Mapping[str, Joint], characteristics: Mapping[str, object]
) -> tuple[Step, ...]:
    """All steps in order. Problems go to the scene's list."""
    steps: list[Step] = []
    for name in tree.step_order:
        path: Path = ("step", name)
        raw = check_table(tree.lines["step"][name], STEP, path, tree.where, scene.problems)
        if not all(key in raw for key in ("id", "title", "unit", "actions")):
            continue
        if raw["unit"] not in scene.units:
            scene.problems.append(
                ReadingError(
                    where=tree.where((*path, "unit")),
                    read=raw["unit"],
                    expected="a unit",
                    remedy=nearest(raw["unit"][:60], scene.units),
                )
            )
            continue
        reader = _ActionReader(tree, scene, joints, characteristics, raw["unit"])
        actions = [
            reader.read(
                row, (*path, "actions", index), whole=_is_whole(tree.get((*path, "actions")), index, row)
            )
            for index, row in enumerate(raw["actions"])
        ]
        steps.append(
            Step(
                id=name,
                title=raw["title"],
                unit=raw["unit"],
                actions=tuple(action for action in actions if action is not None),
                why=raw.get("why", ""),
                caution=tuple(raw.get("caution", ())),
                minutes=raw.get("minutes", 0.0),
                where=tree.where(path),
                paper=tree.paper(path),
            )
        )
    return tuple(steps)


def _is_whole(given: Any, index: int, row: Mapping[str, Any]) -> bool:
    """Whether a row still has all its keys after the check."""
    raw = given[index] if isinstance(given, list) else given
    return isinstance(raw, dict) and len(raw) == len(row)


class _ActionReader:
    def __init__(
        self,
        tree: Tree,
        scene: Scene,
        joints: Mapping[str, Joint],
        characteristics: Mapping[str, object],
        unit: str,
    ) -> None:
        self.tree, self.scene, self.joints, self.unit = tree, scene, joints, unit
        self.characteristics = characteristics
        # Some screws of these may be missing; their own problems and findings say why.
        self.incomplete = scene.broken_joints | {finding.joint for finding in scene.findings}

    def read(self, row: Mapping[str, Any], path: Path, *, whole: bool) -> Action | None:
        """The action of a row; `whole` tells that all its keys were good."""
        verbs = [verb for verb in VERBS if verb in row]
        if not verbs and not whole:
            return None  # said already
        if len(verbs) != 1:
            self._problem(
                path,
                " and ".join(verbs) or "no verb",
                "one verb: " + ", ".join(VERBS),
                'Write one action a table, for example { place = ["beam"] }.',
            )
            return None
        verb = verbs[0]
        for key, fit in _ONLY_WITH.items():
            if key in row and verb not in fit:
                expected = f"this key only with {' or '.join(sorted(fit))}"
                self._problem((*path, key), key, expected, f"Leave {key} out of {verb}.")
        if not row[verb] and verb not in _WORDS_ONLY and not row.get("reads"):
            what = "joints" if verb in JOINT_VERBS else "placed parts or joints"
            self._problem((*path, verb), "nothing", what, f'Write {verb} = ["…"].')
        parts: dict[str, None] = {}
        joints: dict[str, None] = {}
        screws: list[str] = []
        words: list[str] = []
        for word in row[verb]:
            if verb in _WORDS_ONLY and not self._known(word):
                words.append(word)
            else:
                self._resolve(word, (*path, verb), verb, parts, joints, screws)
        for word in row.get("reads", ()):
            if word not in self.characteristics:
                self._problem(
                    (*path, "reads"),
                    word,
                    "a characteristic of machine.toml",
                    nearest(word, self.characteristics),
                )
        order: list[str] = []
        for word in row.get("order", ()):
            named: dict[str, None] = {}
            self._resolve(word, (*path, "order"), verb, {}, named, order)
            order += [one.id for joint in named for one in self.joints[joint].fastenings]
        toward = row.get("toward")
        return Action(
            verb=verb,
            parts=tuple(parts),
            joints=tuple(joints),
            fastenings=tuple(screws),
            says=row.get("says", "") or " ".join(words),
            reads=tuple(row.get("reads", ())),
            using=tuple(row.get("using", ())),
            gap_mm=row.get("gap_mm"),
            minutes=row.get("minutes", 0.0),
            celsius=row.get("celsius", 0.0),
            toward=_direction_name(toward) if toward is not None else "",
            means=row.get("means", ""),
            matters=row.get("matters", ""),
            order=tuple(order),
            where=self.tree.where(path),
        )

    def _known(self, word: str) -> bool:
        names = (f"{self.unit}/{word}", word)
        return any(name in self.joints or name in self.scene.parts for name in names)

    def _problem(self, path: Path, read: object, expected: str, remedy: str) -> None:
        self.scene.problems.append(
            ReadingError(where=self.tree.where(path), read=read, expected=expected, remedy=remedy)
        )

    def _resolve(
        self,
        word: str,
        path: Path,
        verb: str,
        parts: dict[str, None],
        joints: dict[str, None],
        screws: list[str],
    ) -> None:
        """A word names a joint, one screw of it (corners.3), a placed part, or is a pattern."""
        for name in (f"{self.unit}/{word}", word):
            # A part and its joint may share a name: place and hold mean the part, start means the joint.
            if name in self.scene.parts and verb not in JOINT_VERBS:
                parts[name] = None
                return
            if name in self.joints:
                joints[name] = None
                return
            joint = self.joints.get(name.rpartition(".")[0])
            if joint is not None and any(one.id == name for one in joint.fastenings):
                screws.append(name)
                return
            if name in self.scene.broken or name in self.scene.broken_joints:
                return
            if name.rpartition(".")[0] in self.incomplete:
                return
        if any(char in word for char in "*?["):
            pool = list(self.joints) if verb in JOINT_VERBS else [*self.scene.parts, *self.joints]
            names = fnmatch.filter(pool, f"{self.unit}/{word}") or fnmatch.filter(pool, word)
            for name in names:
                (joints if name in self.joints else parts)[name] = None
            if names or self.scene.meets_broken(word, self.unit):
                return
        known = [name.removeprefix(f"{self.unit}/") for name in self.joints]
        if verb not in JOINT_VERBS:
            known += [name.removeprefix(f"{self.unit}/") for name in self.scene.parts]
        expected = "a joint" if verb in JOINT_VERBS else "a placed part or a joint"
        self._problem(path, word, expected, nearest(word, known))


def _direction_name(triple: tuple[float, float, float]) -> str:
    for name, direction in DIRECTIONS.items():
        if max(abs(a - b) for a, b in zip(direction, triple, strict=True)) < 1e-9:
            return name
    return ",".join(f"{part:g}" for part in triple)
