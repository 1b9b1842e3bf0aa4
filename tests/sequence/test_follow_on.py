"""A finding's cause is told before what follows from it, and that says from which."""

from __future__ import annotations

from trysquare.ground.findings import Finding, finding_kinds
from trysquare.sequence.follow_on import FOLLOWS, causes_first


def finding(code: str, *parts: str, joint: str = "", step: str = "") -> Finding:
    return Finding(code=code, says=f"{code}.", parts=parts, joint=joint, step=step)


def told(*found: Finding) -> list[tuple[str, str]]:
    return [(one.code, one.follows) for one in causes_first(found)]


def test_what_follows_stands_behind_its_cause_and_names_it() -> None:
    loose = finding("part-hangs-free", "panels/holder", step="door")
    hole = finding("hole-over-no-slot", "panels/holder", joint="panels/holder-screws")
    assert told(loose, hole) == [
        ("hole-over-no-slot", ""),
        ("part-hangs-free", "hole-over-no-slot of panels/holder-screws"),
    ]


def test_findings_that_name_nothing_in_common_stay_where_they_are() -> None:
    found = [finding("part-hangs-free", "a"), finding("hole-over-no-slot", "b", joint="j")]
    assert causes_first(found) == found


def test_a_part_that_hangs_on_a_loose_part_of_the_same_step_follows_likewise() -> None:
    found = causes_first(
        [
            finding("part-hangs-free", "panels/magnet", step="door"),
            finding("part-hangs-free", "panels/holder", step="door"),
            finding("hole-over-no-slot", "panels/holder", joint="panels/screws"),
        ]
    )
    assert [one.follows != "" for one in found] == [False, True, True]


def test_the_piece_of_a_joint_stands_for_the_joint() -> None:
    nut = finding("nut-unfit-for-slot", "m/plate/nut.1", "carry/right", joint="m/plate")
    count = finding("boxes-run-out", "m/plate/nut.1", "m/plate/nut.2", step="nuts")
    assert told(count, nut)[1] == ("boxes-run-out", "nut-unfit-for-slot of m/plate")


def test_a_chain_leads_back_to_its_first_cause() -> None:
    found = causes_first(
        [
            finding("part-hangs-free", "a", step="s"),
            finding("joint-never-made", "a", joint="u/j"),
            finding("never-placed", "b", joint="u/j"),
        ]
    )
    assert [one.code for one in found] == ["never-placed", "joint-never-made", "part-hangs-free"]
    assert {one.root.code for one in found} == {"never-placed"}


def test_a_finding_is_never_lost_and_never_told_twice() -> None:
    found = [finding(code, "a", joint="u/j", step="s") for code in finding_kinds()]
    ordered = causes_first(found)
    assert sorted(one.code for one in ordered) == sorted(finding_kinds())


def test_every_code_of_the_table_is_a_code_and_none_follows_from_itself_by_any_way() -> None:
    kinds = finding_kinds()
    for code, following in FOLLOWS.items():
        assert {code, *following} <= kinds.keys()

    def reached(code: str, seen: frozenset[str]) -> bool:
        return any(one in seen or reached(one, seen | {one}) for one in FOLLOWS.get(code, ()))

    assert [code for code in FOLLOWS if reached(code, frozenset({code}))] == []
