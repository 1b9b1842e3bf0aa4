"""What holds itself fast: operations that wait for each other in a circle, and for nothing else."""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np


def knots(waits: Mapping[int, Collection[int]]) -> set[int]:
    """All members of groups that wait for each other and for no one outside their group.

    Whatever is stuck waits, near or far, for such a group; so only what is inside one is worth giving up.
    What waits for nobody is a group of its own. Waits for what is no key of `waits` do not count.
    """
    from scipy.sparse import coo_matrix  # noqa: PLC0415  # loaded when something is stuck
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

    index = {number: at for at, number in enumerate(waits)}
    pairs = [(index[one], index[other]) for one in waits for other in waits[one] if other in index]
    ends = np.array(pairs, dtype=np.int64).reshape(-1, 2).T
    graph = coo_matrix((np.ones(ends.shape[1], dtype=np.int8), (ends[0], ends[1])), shape=(len(index),) * 2)
    label = connected_components(graph, connection="strong")[1]
    leaves = set(label[ends[0][label[ends[0]] != label[ends[1]]]].tolist())
    return {number for number, at in index.items() if int(label[at]) not in leaves}
