"""The judge on truth: readings between snug and final, tightening orders, threadlocker."""

from __future__ import annotations

from collections.abc import Sequence

from sequence.judge_booking import FINAL, LEVELS, OUT, SNUG, STARTED, Booking, held_by
from trysquare.machine.values import Action, Fastening, Joint

CRACKS = {"ABS", "ASA", "PC", "PMMA", "ACRYLIC", "POLYCARBONATE"}


class Truth(Booking):
    """What is said of readings and tightening."""

    def loosest(self, joint: Joint) -> int:
        return min((self.level.get(one.id, OUT) for one in joint.fastenings), default=OUT)

    def _read_while_snug(self, joint: Joint) -> bool:
        snug = max((self.when.get((one.id, SNUG), -1) for one in joint.fastenings), default=-1)
        return all(self.level.get(one.id, OUT) >= SNUG for one in joint.fastenings) and any(
            at > snug for at in self.reads.get(joint.align, ())
        )

    def _truth(self, action: Action, joints: Sequence[Joint], turned: Sequence[Fastening]) -> None:
        if action.verb in ("align", "read"):
            for name in action.reads:
                early = [j for j in self.machine.joints if j.align == name and self.loosest(j) < SNUG]
                if early:
                    self.say("read-before-snug", early[0].id)
        if action.verb not in LEVELS:
            return
        level = LEVELS[action.verb]
        for joint in joints:
            own = [one for one in turned if one.joint == joint.id]
            read = self._read_while_snug(joint)
            if level == FINAL and joint.align and own and not read and self._first("unread", joint.id):
                self.say("final-before-read", joint.id)
            if level < FINAL and joint.align and any(self.level.get(one.id) == FINAL for one in own):
                self.say("loosened-after-truing", joint.id)
            locks = any("threadlocker" in word.lower() for word in action.using)
            if locks and level < FINAL and joint.align and not read:
                self.say("locked-before-truing", joint.id)
            if (locks or joint.locks) and level != STARTED:
                words = " ".join(self.machine.part[part].type.material for part in joint.parts)
                bad = CRACKS & set(words.replace("-", " ").replace("/", " ").upper().split())
                if bad and self._first("cracks", joint.id):
                    self.say("threadlocker-cracks-plastic", joint.id)
        if level == FINAL:
            self._rails(joints, turned)
            self._stated(action, joints)
            self._disturbs(joints)

    def _read_of_what_comes_later(self) -> None:
        """At the end: a characteristic read while a part that it speaks of came in another, later step."""
        about = {one.id: (*one.of, *one.against) for one in self.machine.characteristics}
        for name, times in self.reads.items():
            for at in times:
                come = {part: self.there[part] for part in about.get(name, ()) if part in self.there}
                step = self.last_step[at]
                late = [part for part, came in come.items() if came > at and self.last_step[came] != step]
                if late:
                    self.say("read-before-there", late[0], step)
                    break

    def _rails(self, joints: Sequence[Joint], turned: Sequence[Fastening]) -> None:
        after = {one.id for one in turned}
        for pair, tie in self._tied():
            was = [all(self.level.get(one.id) == FINAL for one in joint.fastenings) for joint in pair]
            will = [
                all(one.id in after or self.level.get(one.id) == FINAL for one in joint.fastenings)
                for joint in pair
            ]
            if not all(will) or all(was):
                continue
            ran = all(self.loosest(joint) >= SNUG for joint in tie)
            snug = max(
                (
                    min(self.when.get((one.id, level), 10**9) for level in (SNUG, FINAL))
                    for joint in tie
                    for one in joint.fastenings
                ),
                default=-1,
            )
            runs = [c.id for c in self.machine.characteristics if c.sort == "free-motion"]
            if not (ran and any(at > snug for name in runs for at in self.reads.get(name, ()))):
                self.say("rails-final-before-run", next(j.id for j in joints if j in pair))

    def _tied(self) -> list[tuple[list[Joint], list[Joint]]]:
        """Pairs of parallel rails that something ties, and the joints that tie them."""
        by_rail = {j.parts[0]: j for j in self.machine.joints if j.recipe == "rail-on-slot"}
        blocks = self.known.rail
        carried: dict[str, set[str]] = {}
        ties: dict[str, list[Joint]] = {}
        for block, rail in blocks.items():
            carried.setdefault(rail, set())
            for joint in self.known.joints_of.get(block, []):
                parts = set(joint.parts) - {rail} - set(blocks)
                carried[rail] |= parts
                ties.setdefault(rail, []).extend([joint] if parts else [])
        found = []
        rails = [rail for rail in carried if rail in by_rail]
        for index, one in enumerate(rails):
            for other in rails[index + 1 :]:
                x, y = (self.machine.part[rail].placement.turn[:, 0] for rail in (one, other))
                between = self._between(carried[one], carried[other])
                if abs(float(x @ y)) > 1 - 1e-6 and between is not None:
                    found.append(([by_rail[one], by_rail[other]], [*ties[one], *ties[other], *between]))
        return found

    def _between(self, first: set[str], second: set[str]) -> list[Joint] | None:
        """No joint where both share a part, else one that joins both, else two that meet on one member."""
        if first & second:
            return []
        made = [joint for joint in self.machine.joints if joint.fastenings]
        for joint in made:
            if set(joint.parts) & first and set(joint.parts) & second:
                return [joint]
        near = {
            p: j for one in first for j in self.known.joints_of.get(one, []) if j in made for p in j.parts
        }
        for other in second:
            for joint in self.known.joints_of.get(other, []):
                for part in joint.parts:
                    if joint in made and part in near and part not in self.known.rail and part != other:
                        return [near[part], joint]
        return None

    def _stated(self, action: Action, joints: Sequence[Joint]) -> None:
        for joint in joints:
            stated = [name for name in action.order if name.rpartition(".")[0] == joint.id]
            row = [one.id for one in joint.fastenings]
            if not joint.from_centre or not stated:
                continue
            if set(row) - set(stated):
                self.say("screws-left-out", joint.id)
                continue
            if any(self._closes_in(joint, rail, stated) for rail in self.known.rail):
                self.say("tightened-from-the-ends", joint.id)

    def _closes_in(self, joint: Joint, rail: str, stated: Sequence[str]) -> bool:
        """Whether the screws through one rail are at any moment final in two places of it."""
        row = [one.id for one in joint.fastenings if any(grip.part == rail for grip in one.grips)]
        places = [row.index(name) for name in stated if name in row]
        for count in range(1, len(places) + 1):
            final = sorted(places[:count])
            if final != list(range(final[0], final[0] + count)):
                return True
        return False

    def _disturbs(self, joints: Sequence[Joint]) -> None:
        named = dict.fromkeys(j.align for j in self.machine.joints if j.align)
        for joint in joints:
            members = self._clamped_together(joint)
            if joint.align or joint.belt is not None or len(members) < 2:
                continue
            for name in named:
                true = [j for j in self.machine.joints if j.align == name]
                parts = {part for j in true for part in j.parts}
                if all(self.loosest(j) == FINAL for j in true) and members <= parts:
                    self.to_read_again.setdefault(name, (self.now, self.step, joint.id))

    def _clamped_together(self, joint: Joint) -> set[str]:
        """Members between which this joint makes a bond: a bracket on two of them, not a nut on each."""
        bonded: dict[str, set[str]] = {}
        for one in joint.fastenings:
            under_head = one.grips[0].part if one.grips else one.host_part
            for name in held_by(one) - {""}:
                if self.machine.part[name].type.profile is not None:
                    bonded.setdefault(under_head, set()).add(name)
        return {name for members in bonded.values() if len(members) > 1 for name in members}
