"""Vendors' names: what is certain, what is a guess, and that a guess counts for nothing."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from small_frame import UPGRADE, write_frame
from trysquare.catalogue.lookup import lookup
from trysquare.catalogue.screws import screw_designations
from trysquare.ground.errors import ReadingError
from trysquare.intake.list_columns import find_columns
from trysquare.intake.list_decide import Known, decide
from trysquare.intake.list_rows import read_rows
from trysquare.machine.load import load_machine
from trysquare.machine.values import Machine
from trysquare.stock.counting import Count, read_count
from trysquare.stock.habits import readings
from trysquare.stock.matching import Matcher
from trysquare.stock.need import need
from trysquare.stock.remembered import read_names, with_names
from trysquare.stock.tables import Table, TableRow


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Machine:
    return load_machine(write_frame(tmp_path_factory.mktemp("frame"), papers__upgrade_toml=UPGRADE))


def count_of(folder: Path, rows: str, names: str = "") -> tuple[Count, list[ReadingError]]:
    write_frame(folder)
    (folder / "boxes").mkdir(exist_ok=True)
    (folder / "boxes" / "kit.csv").write_text(f"name;pieces\n{rows}", encoding="utf-8")
    if names:
        (folder / "names.toml").write_text(names, encoding="utf-8")
    machine = load_machine(folder)
    problems: list[ReadingError] = []
    return read_count(machine, need(machine), problems), problems


@pytest.mark.parametrize(
    ("name", "designation"),
    [
        ("M3×8 BHCS", "ISO 7380-1 M3x8"), ("BHCS M3x8mm", "ISO 7380-1 M3x8"),
        ("screw, button head, M3 x 8", "ISO 7380-1 M3x8"), ("8 mm M3 button head", "ISO 7380-1 M3x8"),
        ("Button head socket cap screw M5 x 10 mm", "ISO 7380-1 M5x10"), ("socket cap M3-8", "ISO 4762 M3x8"),
        ("DIN 912 M3x8 8.8", "ISO 4762 M3x8 8.8"), ("M3x0.5x8 SHCS", "ISO 4762 M3x8"),
        ("M3 8mm cap head", "ISO 4762 M3x8"), ("Zylinderschraube M3 x 8", "ISO 4762 M3x8"),
        ("countersunk M4 x 20 (pack of 50)", "ISO 10642 M4x20"), ("Grub screw M3 x 3", "ISO 4026 M3x3"),
        ("T-slot nut, drop in, slot 6, M4", "roll-in nut slot 6 M4"),
        ("hammer nut M5 slot 6", "quarter-turn nut slot 6 M5"),
        ("hex nut M3", "ISO 4032 M3"), ("flat washer M5", "ISO 7089 M5"),
        ("thin square nut M3", "DIN 562 M3"),
        ("Brass heat set insert M3 x 5.7 x 4.6", "heat-set insert M3x5.7"),
        ("Linear rail 9 mm, 280 mm long", "rail 9x280"), ("carriage 9, long", "block 9 long"),
        ("Timing belt 6 mm wide 2 mm pitch", "belt 2 mm pitch 6 mm wide"),
        ("24T pulley 5mm bore", "pulley 2 mm pitch 24 teeth bore 5"),
        ("Lead screw 8 mm, lead 8 mm, 250 mm", "lead screw 8x2 starts 4 length 250"),
        ("22AWG silicone wire", "wire AWG 22"), ("Wire 1.0 mm²", "wire 1 mm2"),
        ("EP2 grease", "grease NLGI 2"),
    ],
)  # fmt: skip
def test_a_vendor_s_habit_is_read(name: str, designation: str) -> None:
    assert readings(name)[0].designation == designation


@pytest.mark.parametrize("name", ["M3x8", "T-nut M5 20 series", "M3 nyloc nut", "M5 t nut"])
def test_what_leaves_something_open_is_read_with_little_confidence(name: str) -> None:
    assert all(reading.confidence < 0.6 for reading in readings(name))


@given(st.text(max_size=80))
def test_any_name_is_read_without_failing_and_only_to_designations_that_exist(name: str) -> None:
    for reading in readings(name):
        assert lookup(reading.designation).designation == reading.designation
        assert 0 < reading.confidence < 1


@given(
    st.sampled_from(sorted(screw_designations())),
    st.sampled_from(["{h} {t} x {l}", "{t}x{l} {h}", "{h}, {t}-{l} mm"]),
)
def test_every_screw_of_the_catalogue_is_found_by_its_short_name(designation: str, form: str) -> None:
    standard, _, size = designation.rpartition(" ")
    thread, _, length = size.partition("x")
    words = {
        "ISO 4762": "SHCS", "ISO 7380-1": "BHCS", "ISO 10642": "countersunk", "DIN 7991": "DIN 7991",
        "ISO 4026": "grub screw flat point", "ISO 4029": "grub screw cup point",
    }[standard]  # fmt: skip
    found = readings(form.format(h=words, t=thread, l=length))
    assert found[0].designation == designation


@pytest.mark.parametrize(
    ("name", "part", "how"),
    [
        ("post", "post", "its id"), ("Cross  Beam", "beam", "its name in the papers"),
        ("traverse", "beam", "another paper's name"),
        ("rail screw s6", "ISO 4762 M3x6", "another paper's name"),
        ("iso 4762 m3 X 6", "ISO 4762 M3x6", "its designation"),
        ("rail 9 x 200", "rail 9x200", "its designation"),
    ],
)  # fmt: skip
def test_a_name_plainly_written_is_certain(machine: Machine, name: str, part: str, how: str) -> None:
    match = Matcher(machine, (), {}).match(name)
    assert (match.parts, match.how) == ((part,), how)


def test_a_free_name_is_guessed_by_its_likeness(machine: Machine) -> None:
    match = Matcher(machine, (), {}).match("Beam, cross, aluminium")
    assert not match.how
    assert match.guesses[0].part == "beam"


def test_of_names_that_mean_nothing_nothing_is_guessed(machine: Machine) -> None:
    assert Matcher(machine, (), {}).match("Sticker sheet").guesses == ()


def test_a_guess_counts_for_nothing_until_it_is_confirmed(tmp_path: Path) -> None:
    before, _ = count_of(tmp_path, "screw M3x6;10\n")
    assert before.lots == ()
    assert [row.match.guesses[0].part for row in before.waiting] == ["ISO 4762 M3x6"]
    after, problems = count_of(tmp_path, "screw M3x6;10\n", '[names]\n"Screw M3x6" = "ISO 4762 M3x6"\n')
    assert not problems
    assert [(lot.part, lot.pieces) for lot in after.lots] == [("ISO 4762 M3x6", 10)]
    assert after.waiting == ()


def test_what_is_not_of_this_machine_waits_no_more_and_counts_for_nothing(tmp_path: Path) -> None:
    count, _ = count_of(tmp_path, "Foam;3\n", '[names]\n"Foam" = ""\n')
    assert (count.lots, count.waiting) == ((), ())


def test_one_name_may_mean_several_parts(tmp_path: Path) -> None:
    count, _ = count_of(
        tmp_path, "Rail with block;2\n", '[names]\n"Rail with block" = ["rail 9x200", "block 9 standard"]\n'
    )
    assert [(lot.part, lot.pieces) for lot in count.lots] == [("rail 9x200", 2), ("block 9 standard", 2)]


@pytest.mark.parametrize(
    ("names", "read"),
    [
        ('[names]\n"a" = "no such part"\n', "no such part"), ('[names]\n"a" = 3\n', 3),
        ('[name]\n"a" = "post"\n', "name"), ('[names]\n"a b" = "post"\n"A  B" = "beam"\n', "A  B"),
    ],
)  # fmt: skip
def test_a_remembered_name_that_cannot_be_used_is_a_problem_with_its_line(
    tmp_path: Path, names: str, read: object
) -> None:
    _, problems = count_of(tmp_path, "post;1\n", names)
    assert [problem.read for problem in problems] == [read]
    assert problems[0].where.file == "names.toml"
    assert problems[0].where.line >= 1


def test_what_the_user_wrote_in_names_toml_stays_as_it_is() -> None:
    text = '# my boxes\n[names]  # confirmed\n"Foam" = ""   # packing\n"B" = "post"\n'
    new = with_names(text, {"M3x6 SHCS": ("ISO 4762 M3x6",), "b": ("beam",), "Pair": ("post", "beam")})
    assert new.startswith('# my boxes\n[names]  # confirmed\n"Foam" = ""   # packing\n"B" = "beam"\n')
    assert '"M3x6 SHCS" = "ISO 4762 M3x6"' in new
    assert 'Pair = ["post", "beam"]' in new


@given(st.text(min_size=1, max_size=30).filter(lambda text: text.strip() and "\r" not in text))
def test_a_confirmed_name_is_read_back(tmp_path_factory: pytest.TempPathFactory, name: str) -> None:
    folder = tmp_path_factory.mktemp("names")
    (folder / "names.toml").write_text(with_names("", {name: ("post",)}), encoding="utf-8", newline="")
    problems: list[ReadingError] = []
    assert list(read_names(folder, lambda word: word, problems).values()) == [("post",)]
    assert not problems


def test_a_name_that_speaks_of_packs_where_the_column_does_not_is_pointed_out(tmp_path: Path) -> None:
    names = '[names]\n"M3x6 SHCS" = "ISO 4762 M3x6"\n'
    count, _ = count_of(tmp_path, "M3x6 SHCS (pack of 50);2\n", names)
    assert count.rows[0].pieces == 2
    assert "50 in a pack" in count.rows[0].remarks[0]


SAME_ROWS = (
    "Linsenkopf M5x12 ISO 7380-1", "M3x5 ISO 4762", "M3×8 BHCS", "Zylinderschraube M4x12 verzinkt",
    "vis CHC M3x10 noire", "roll-in nut slot 6 M4", "Screw M3 x 8", "M4x6 grub", "M8 hex nut decal",
    "M3x16 SHCS torx", "T-nut M5", "ISO 4762 M3x8 keyring", "DIN 934 M5", "foam", "wire AWG 22 red",
    "heat-set insert M3x5.7", "M5 nut", "ISO 7380-2 M4x10",
)  # fmt: skip


@pytest.mark.parametrize("name", SAME_ROWS)
def test_boxes_and_parts_lists_take_and_ask_the_same_names(machine: Machine, name: str) -> None:
    counted = Matcher(machine, (), {}).match(name)
    table = Table(
        file="list.csv",
        sheet="",
        rows=(TableRow(line=1, cells=("part", "qty")), TableRow(line=2, cells=(name, "4"))),
    )
    columns = find_columns(table, {}, [])
    assert columns is not None
    (imported,) = decide(read_rows(table, columns).rows, Known())
    if imported.outcome == "recognised":
        assert counted.parts == imported.parts
    else:
        assert counted.parts == ()
