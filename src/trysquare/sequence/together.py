"""What hangs together while a machine is taken apart, kept up piece by piece.

Operations link pieces. When one is undone its links go, and a group may come apart: then only the
smaller sides are walked round, so that a whole taking apart costs little more than looking at it once.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping


class Together:
    """Groups of pieces. `links`: for each operation the pairs of pieces it holds together."""

    def __init__(self, links: Mapping[int, Iterable[tuple[str, str]]], present: Collection[str]) -> None:
        self.links = {number: tuple(pairs) for number, pairs in links.items()}
        self.by: dict[str, dict[str, set[int]]] = {piece: {} for piece in present}
        for number, pairs in self.links.items():
            for one, other in pairs:
                if one in self.by and other in self.by:
                    self.by[one].setdefault(other, set()).add(number)
                    self.by[other].setdefault(one, set()).add(number)
        self.of: dict[str, set[str]] = {}
        for piece in sorted(present):
            if piece not in self.of:
                group = self._all_from(piece)
                self.of |= dict.fromkeys(group, group)

    def _all_from(self, piece: str) -> set[str]:
        found, todo = {piece}, [piece]
        while todo:
            for other in self.by[todo.pop()]:
                if other not in found:
                    found.add(other)
                    todo.append(other)
        return found

    def group(self, piece: str) -> Collection[str]:
        """Everything that hangs together with a piece, itself included; empty when it is not there.
        Shared, not a copy."""
        return self.of.get(piece, ())

    def apart(self, one: str, other: str) -> bool:
        """Whether two pieces do not hang together."""
        return self.of.get(one) is not self.of.get(other)

    def parted(self, number: int, pieces: Collection[str], ends: Iterable[str]) -> list[set[str]]:
        """The groups in which `ends` would hang without an operation's links and the pieces it brought;
        one group when nothing comes apart. All ends hang together now."""
        walks = [_Walk(end) for end in dict.fromkeys(ends) if end in self.by and end not in pieces]
        whole: list[_Walk] = []
        while len(walks) > 1:
            walk = min(walks, key=lambda one: len(one.found))
            if not walk.todo:  # all round, and no other end met
                walks.remove(walk)
                whole.append(walk)
                continue
            for other, owners in self.by[walk.todo.pop()].items():
                if other in walk.found or other in pieces or owners == {number}:
                    continue
                met = next((one for one in walks if one is not walk and other in one.found), None)
                if met is None:
                    walk.found.add(other)
                    walk.todo.append(other)
                    continue
                walk.found |= met.found
                walk.todo += met.todo
                walks.remove(met)
        groups = [walk.found for walk in whole]
        if walks:  # the last one has all that is left
            rest = set(self.of[walks[0].start]) - set(pieces)
            groups.append(rest.difference(*groups))
        return groups

    def remove(self, number: int, pieces: Collection[str]) -> None:
        """Takes an operation's links and pieces away."""
        ends: dict[str, None] = {}
        for one, other in self.links[number]:
            if one in self.by and other in self.by:
                for end, far in ((one, other), (other, one)):
                    if end not in pieces:
                        ends[end] = None
                    owners = self.by[end].get(far)
                    if owners is not None:
                        owners.discard(number)
                        if not owners:
                            del self.by[end][far]
        for piece in pieces:
            for far in self.by.pop(piece, {}):
                if far in self.by:
                    del self.by[far][piece]
                    ends[far] = None
            group = self.of.pop(piece, None)
            if group is not None:
                group.discard(piece)
        if len(ends) > 1:
            self._split(ends)

    def _split(self, ends: Iterable[str]) -> None:
        """Makes groups of what does not hang together any more; the largest keeps the old one."""
        by_group: dict[int, list[str]] = {}
        for end in ends:
            if end in self.of:
                by_group.setdefault(id(self.of[end]), []).append(end)
        for several in by_group.values():
            groups = sorted(self.parted(-1, (), several), key=len)
            for group in groups[:-1]:
                old = self.of[next(iter(group))]
                old -= group
                self.of |= dict.fromkeys(group, group)


class _Walk:
    """One end, and what was found to hang on it so far."""

    def __init__(self, start: str) -> None:
        self.start, self.found, self.todo = start, {start}, [start]
