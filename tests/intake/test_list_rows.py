"""Columns found by headings and by contents, quantities in packs, and no row lost."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trysquare.ground.errors import ReadingError
from trysquare.intake.list_columns import find_columns, letter_of
from trysquare.intake.list_decide import Decided, Known, decide, id_for
from trysquare.intake.list_rows import ListedRow, read_rows
from trysquare.stock.tables import Table, TableRow


def table(*rows: tuple[Any, ...]) -> Table:
    return Table(
        file="list.csv",
        sheet="",
        rows=tuple(TableRow(line=n, cells=row) for n, row in enumerate(rows, start=1)),
    )


def columns_of(one: Table, **said: str) -> dict[str, str]:
    problems: list[ReadingError] = []
    found = find_columns(one, said, problems)
    assert found is not None, problems
    return {sort: column.letter for sort, column in found.found.items()}


def problem_of(one: Table, **said: str) -> ReadingError:
    problems: list[ReadingError] = []
    assert find_columns(one, said, problems) is None
    assert len(problems) == 1
    return problems[0]


def rows_of(one: Table, **said: str) -> tuple[ListedRow, ...]:
    found = find_columns(one, said, [])
    assert found is not None
    return read_rows(one, found).rows


def decided(*rows: tuple[Any, ...], known: Known | None = None) -> tuple[Decided, ...]:
    return decide(rows_of(table(("part", "qty"), *rows)), known or Known())


@pytest.mark.parametrize(
    ("heading", "found"),
    [
        (("Pos", "Description", "Qty"), {"name": "B", "pieces": "C"}),
        (("QTY.", "Part name", "Remarks"), {"pieces": "A", "name": "B", "note": "C"}),
        (("Bezeichnung", "Menge", "Länge (mm)"), {"name": "A", "pieces": "B", "length": "C"}),
        (("Item", "Packs", "Pcs/pack"), {"name": "A", "packs": "B", "pack_size": "C"}),
        (("Part", "Description", "Quantity"), {"name": "B", "pieces": "C"}),
        (("Type", "Size", "Norm", "Anzahl"), {"name": "A", "size": "B", "standard": "C", "pieces": "D"}),
    ],
)
def test_columns_are_found_by_their_headings(heading: tuple[str, ...], found: dict[str, str]) -> None:
    row = ["M3x8 SHCS" if "ABCD"[at] == found["name"] else "4" for at in range(len(heading))]
    one = table(("My slider",), heading, tuple(row))
    assert columns_of(one) == found


def test_columns_without_headings_are_found_by_what_stands_in_them() -> None:
    one = table(("1", "M3x8 SHCS", "24"), ("2", "M5 hex nut", "12"), ("3", "foot", "4"))
    assert columns_of(one) == {"name": "B", "pieces": "C"}


def test_a_row_of_positions_is_no_number_of_pieces() -> None:
    one = table(("nr", "what it is", "x"), (1, "foot", 4), (2, "arm", 4), (3, "plate", 9))
    assert columns_of(one)["pieces"] == "C"


def test_a_column_is_taken_as_it_is_said() -> None:
    one = table(("part", "qty", "qty for two"), ("foot", 4, 8))
    assert columns_of(one, pieces="qty for two")["pieces"] == "C"
    assert columns_of(one, pieces="C")["pieces"] == "C"
    assert columns_of(one, pieces="3")["pieces"] == "C"
    assert "columns" in problem_of(one, pieces="weight").expected


def test_two_columns_of_one_heading_are_asked_about() -> None:
    problem = problem_of(table(("part", "qty", "qty"), ("foot", 4, 8)))
    assert "columns B and C" in str(problem.read)
    assert "--columns pieces=B" in problem.remedy


def test_two_columns_of_one_heading_that_agree_are_one() -> None:
    assert columns_of(table(("part", "qty", "qty"), ("foot", 4, 4)))["pieces"] == "B"


def test_a_name_in_several_columns_is_read_as_one_text() -> None:
    (row,) = rows_of(table(("Type", "Size", "Qty"), ("button head screw", "M3 x 8", 4)))
    assert decide([row], Known())[0].parts == ("ISO 7380-1 M3x8",)
    (row,) = rows_of(table(("Part", "Length", "Qty"), ("SHCS M3", "8 mm", 4)))
    assert decide([row], Known())[0].parts == ("ISO 4762 M3x8",)


@pytest.mark.parametrize(
    ("quantity", "pieces"),
    [
        ("12", 12),
        (12.0, 12),
        ("12 pcs", 12),
        ("2 × 100", 200),
        ("2 packs of 50", 100),
        ("pack of 50", 50),
        ("1,000", 1000),
    ],
)
def test_quantities_are_read_in_packs(quantity: object, pieces: int) -> None:
    (one,) = decided(("M3x8 SHCS", quantity))
    assert (one.outcome, one.pieces) == ("recognised", pieces)


@pytest.mark.parametrize(
    "quantity", ["-3", "2.5", "", None, "about 50", "a few", True, 1e12, "3 packs", float("nan")]
)
def test_what_is_no_number_of_pieces_is_asked_and_not_dropped(quantity: object) -> None:
    (one,) = decide(rows_of(table(("part", "qty", "note"), ("M3x8 SHCS", quantity, "x"))), Known())
    assert one.outcome == "asked"
    assert one.parts == ("ISO 4762 M3x8",)
    assert one.pieces == 0
    assert "How many pieces?" in one.question


def test_packs_take_their_size_from_the_name() -> None:
    (row,) = rows_of(table(("part", "packs"), ("M3x8 SHCS (pack of 50)", 2)))
    assert decide([row], Known())[0].pieces == 100


def test_a_number_beside_a_pack_in_the_name_is_asked() -> None:
    (one,) = decided(("M3x8 SHCS (pack of 50)", 2))
    assert one.outcome == "asked"
    assert "2 packs of 50, 100" in one.question
    (whole,) = decided(("M3x8 SHCS (pack of 50)", 100))
    assert (whole.outcome, whole.pieces) == ("recognised", 100)


def test_remembered_names_and_own_parts_go_before_the_words() -> None:
    known = Known(
        names={"m3 x 10": ("ISO 4762 M3x10",), "foam": ()}, own={"foot": "foot-a"}, ids=frozenset({"foot-a"})
    )
    screw, foam, foot = decided(("M3 x 10", 4), ("Foam", 1), ("Foot", 2), known=known)
    assert screw.parts == ("ISO 4762 M3x10",)
    assert (foam.outcome, foam.parts) == ("left out", ())
    assert (foot.outcome, foot.parts) == ("own", ("foot-a",))


def test_rows_of_one_name_are_one_part() -> None:
    one, other = decided(("foot", 2), ("Foot", 2))
    assert one.parts == other.parts == ("foot",)


def test_titles_and_totals_are_told_and_no_parts() -> None:
    one = table(("part", "qty"), ("Frame", None), ("foot", 4), ("Total", 4))
    found = find_columns(one, {}, [])
    assert found is not None
    read = read_rows(one, found)
    assert [row.name for row in read.rows] == ["foot"]
    assert len(read.passed_over) == 2


CELLS = st.one_of(
    st.none(), st.text(max_size=30), st.integers(-5, 2000), st.floats(allow_nan=True), st.booleans()
)


@given(st.lists(st.tuples(CELLS, CELLS, CELLS), max_size=12))
def test_every_row_is_recognised_asked_own_or_told_to_be_no_part(cells: list[tuple[Any, Any, Any]]) -> None:
    one = table(
        ("part", "qty", "note"), *(row for row in cells if any(str(c).strip() for c in row if c is not None))
    )
    found = find_columns(one, {}, [])
    if found is None:
        return
    read = read_rows(one, found)
    answers = decide(read.rows, Known())
    below = [row for row in one.rows if row.line > found.heading_line]
    told = [text for text in read.passed_over if "above the heading" not in text]
    assert len(answers) + len(told) == len(below)
    assert all(answer.parts for answer in answers)


@given(st.lists(st.text(max_size=60), max_size=10))
def test_ids_are_ids_and_none_is_given_twice(names: list[str]) -> None:
    taken: list[str] = []
    for name in names:
        taken.append(id_for(name, taken))
    assert len(set(taken)) == len(taken)
    assert all(one[0].isalnum() and one.isascii() and " " not in one for one in taken)


def test_columns_are_lettered_as_in_a_spreadsheet() -> None:
    assert [letter_of(at) for at in (0, 25, 26, 701)] == ["A", "Z", "AA", "ZZ"]


def test_a_pack_in_the_remark_asks_for_the_pieces_like_one_in_the_name() -> None:
    # Source: common practice, no source
    one = table(("Part", "Qty", "Note"), ("M3x8 SHCS", "1", "bag of 100"), ("M3x10 SHCS 50-pack", "2", ""))
    found = decide(rows_of(one), Known())
    assert [each.outcome for each in found] == ["asked", "asked"]
    assert "1 pack of 100, 100?" in found[0].question
    assert "2 packs of 50, 100?" in found[1].question


def test_the_headings_of_other_tongues_say_the_same_columns() -> None:
    for heads in (
        ("Descrizione", "Misura", "Lunghezza (mm)", "Q.tà"),
        ("Pieza", "Medida", "Longitud (mm)", "Cantidad"),
        ("Omschrijving", "Maat", "Lengte (mm)", "Aantal"),
        ("Désignation", "Filetage", "Long. (mm)", "Qté"),
        ("Benennung", "Gewinde", "Länge (mm)", "Stk."),
    ):
        one = table(heads, ("a", "M3", "8", "4"))
        assert columns_of(one) == {"name": "A", "size": "B", "length": "C", "pieces": "D"}, heads


@pytest.mark.parametrize("said", ["about 4", "ca. 4", "~4", "4-5", "4 to 6", "rund 4", "4+"])
def test_a_number_that_is_not_exact_is_asked_in_words_of_a_parts_list(said: str) -> None:
    (row,) = rows_of(table(("part", "qty"), ("M3x8 BHCS", said)))
    assert row.pieces is None
    assert "an exact number of pieces" in row.why_not
    assert "how many the machine needs" in row.why_not
    assert "weigh" not in row.why_not


def test_a_part_without_a_number_is_asked_and_no_title() -> None:
    one = table(("part", "qty"), ("Frame", ""), ("M3x8 BHCS", ""), ("M3x10 BHCS", "4"))
    assert [(row.name, row.pieces) for row in rows_of(one)] == [("M3x8 BHCS", None), ("M3x10 BHCS", 4)]
