"""Which final joints to loosen so that what is out can come right: as few as can be found."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from trysquare.sequence.state import Tightness
from trysquare.truing.advice_pushes import Chosen, Wanted, fewest, is_good
from trysquare.truing.model import Model
from trysquare.truing.moves import Give, body_columns, compliance, give_of, slip_matrix
from trysquare.truing.network import Adjustment
from trysquare.truing.standing import Standing, tightness_of


def fewest_to_loosen(
    model: Model,
    solved: Adjustment,
    wanted: Wanted,
    standing: Standing,
    read: NDArray[np.bool_],
) -> tuple[tuple[int, ...], Give, Chosen] | None:
    """Final joints that must slip so that what is out comes right, as few as can be found.

    All are taken as loose first, those that hardly slip are made stiffer, again and again: what still slips
    must be loosened. Then each is left out in turn as long as it still works.
    """
    links = model.assembly.links
    final = [
        index
        for index, link in enumerate(links)
        if tightness_of(model.assembly.machine, link.joint, link.screws, standing) is Tightness.FINAL
        and not link.play.runs
        and link.screws
    ]
    if not final:
        return None
    columns = body_columns(model)
    slip = slip_matrix(model, solved.matrix, columns)
    loose = give_of(model, solved.matrix, standing).loose
    rates = wanted.rates[:, columns] * wanted.weights[:, None]
    rates = rates[read]
    target = -(wanted.weights * wanted.values)[read]
    share = np.ones(len(links))
    slipped = np.zeros(len(links))
    for _ in range(12):
        give = compliance(slip, np.repeat(np.maximum(share, 1e-3), 6))
        spread = rates @ give @ rates.T
        spread[np.diag_indices_from(spread)] += 1e-6 * max(float(np.trace(spread)), 1e-12)
        change = give @ rates.T @ np.linalg.solve(spread, target)
        slipped = np.abs(slip @ change).reshape(len(links), 6).max(axis=1)
        top = max(float(slipped[final].max(initial=0.0)), 1e-12)
        for index in final:
            share[index] = np.sqrt(slipped[index] / top)
    chosen = [index for index in final if slipped[index] > 0.03 * slipped[final].max(initial=0.0)]
    if not chosen or len(chosen) + sum(loose) == 0:
        return None

    def tried(some: Sequence[int]) -> tuple[Give, Chosen]:
        give = give_of(model, solved.matrix, standing, also_loose=some)
        return give, fewest(wanted, give, read)

    give_, pushes = tried(chosen)
    if not is_good(wanted, give_, pushes, read):
        return (tuple(chosen), give_, pushes) if pushes else None
    for index in sorted(chosen, key=lambda index: slipped[index]):
        fewer = [other for other in chosen if other != index]
        other_give, other_pushes = tried(fewer)
        if is_good(wanted, other_give, other_pushes, read):
            chosen, give_, pushes = fewer, other_give, other_pushes
    return tuple(chosen), give_, pushes
