"""`trysquare why`: every code is explained."""

from __future__ import annotations

import pytest

from command_line import Run
from trysquare.ground.findings import finding_kinds


@pytest.mark.parametrize("code", sorted(finding_kinds()))
def test_every_code_is_explained_with_consequence_remedy_and_basis(run: Run, code: str) -> None:
    kind = finding_kinds()[code]
    answer = run("why", code)
    assert answer.status == 0
    flat = " ".join(answer.out.split())
    for text in (kind.meaning, kind.consequence, kind.remedy, kind.basis):
        assert text
        assert " ".join(text.split()) in flat
    assert run("why", code, "--json").json["consequence"] == kind.consequence


def test_an_unknown_code_is_answered_with_the_nearest(run: Run) -> None:
    answer = run("why", "gap-in-stak")
    assert (answer.status, answer.out) == (2, "")
    assert answer.err == "There is no finding 'gap-in-stak'. Did you mean 'gap-in-stack'?\n"
