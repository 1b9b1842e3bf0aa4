"""`trysquare import` of an assembly: what is written, asked, remembered, and what never gives way unseen."""

from __future__ import annotations

import shutil
from pathlib import Path

import click
import pytest

from command_line import Run
from trysquare.bench.show_import import part_svg
from trysquare.cli import import_ask
from trysquare.cli.import_merge import differences, merged
from trysquare.cli.import_write import BACKUPS, BASE, WAITING
from trysquare.ground.errors import ReadingError
from trysquare.intake.rulings import OWN, Memory, Ruling, memory_text, read_memory
from trysquare.intake.taken_in import Question
from trysquare.machine.load import load_machine
from trysquare.publish.given_tree import given_tree
from trysquare.publish.step_file import step_bytes
from trysquare.record.rulings_kept import keep, read_asked, read_kept

pytestmark = pytest.mark.slow

REED = Path(__file__).resolve().parents[2] / "demo" / "reed-joints"
TRACK = "units/track.toml"


def given_out(machine: Path, step: Path) -> Path:
    read = load_machine(machine)
    step.write_bytes(step_bytes(given_tree(read), read.folder))
    return step


@pytest.fixture(scope="module")
def slider(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return given_out(REED, tmp_path_factory.mktemp("given") / "slider.step")


@pytest.fixture(scope="module")
def revised(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The slider with a foot moved by a centimetre."""
    folder = tmp_path_factory.mktemp("revised")
    shutil.copytree(REED, folder / "reed", ignore=shutil.ignore_patterns(".*"))
    track = folder / "reed" / TRACK
    track.write_text(track.read_text().replace("offset_mm = 330", "offset_mm = 320"))
    return given_out(folder / "reed", folder / "slider.step")


@pytest.fixture(scope="module")
def first(slider: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder as the first import leaves it."""
    from trysquare.cli.main import main

    folder = tmp_path_factory.mktemp("first") / "slider"
    assert main(["import", str(slider), str(folder), "--no-questions", "--json"]) == 0
    return folder


@pytest.fixture
def folder(first: Path, tmp_path: Path) -> Path:
    shutil.copytree(first, tmp_path / "slider")
    return tmp_path / "slider"


def edited(folder: Path, old: str, new: str, name: str = TRACK) -> None:
    text = (folder / name).read_text()
    assert old in text
    (folder / name).write_text(text.replace(old, new))


@pytest.mark.slow
def test_a_folder_is_written_that_loads_and_checks(slider: Path, tmp_path: Path, run: Run) -> None:
    facts = run("import", slider, tmp_path / "new", "--no-questions", "--json").json
    assert facts["screws"] == facts["screws_in_joints"] == 29
    assert facts["joints"] == {"block-on-rail": 1, "plate-on-slots": 4, "rail-on-slot": 1, "through-bolt": 4}
    assert set(facts["files"].values()) == {"new"}
    assert run("check", tmp_path / "new", "--json").json["findings"] == []


@pytest.mark.slow
def test_the_text_says_what_was_found_and_how_to_go_on(slider: Path, tmp_path: Path, run: Run) -> None:
    answer = run("import", slider, tmp_path / "new", "--no-questions")
    assert answer.status == 0
    for word in ("60 pieces of 17 shapes", "29 of 29 screws", "15 × ISO 4762 M3x8", "trysquare check"):
        assert word in answer.out


@pytest.mark.slow
def test_looking_writes_nothing(slider: Path, tmp_path: Path, run: Run) -> None:
    answer = run("import", slider, tmp_path / "new", "--look")
    assert "nothing was written" in answer.out
    assert not (tmp_path / "new").exists()


@pytest.mark.slow
def test_the_same_file_again_changes_nothing(slider: Path, folder: Path, run: Run) -> None:
    before = {file: file.read_bytes() for file in folder.rglob("*") if file.is_file()}
    facts = run("import", slider, folder, "--no-questions", "--json").json
    assert set(facts["files"].values()) == {"same"}
    assert facts["changes"]["changes"] == []
    assert {file: file.read_bytes() for file in folder.rglob("*") if file.is_file()} == before


@pytest.mark.slow
def test_a_new_revision_says_what_is_another_and_keeps_a_backup(
    revised: Path, folder: Path, run: Run
) -> None:
    old = (folder / TRACK).read_text()
    facts = run("import", revised, folder, "--no-questions", "--json").json
    assert facts["files"][TRACK] == "updated"
    assert {change["id"] for change in facts["changes"]["changes"]} >= {"track/foot-right-screws"}
    assert (folder / facts["backup"] / TRACK).read_text() == old
    assert "foot-right" in (folder / facts["backup"] / "changes.diff").read_text()


@pytest.mark.slow
def test_what_the_builder_wrote_survives_a_new_revision(revised: Path, folder: Path, run: Run) -> None:
    edited(folder, 'recipe = "rail-on-slot"', 'recipe = "rail-on-slot"\ntorque_newton_metre = 1.1')
    facts = run("import", revised, folder, "--no-questions", "--json").json
    assert facts["files"][TRACK] == "merged"
    machine = load_machine(folder)
    assert machine.joint["track/rail-screws"].torque_newton_metre == 1.1
    assert machine.part["track/foot-right"].placement.origin_mm[0] == pytest.approx(320)


@pytest.mark.slow
def test_nothing_is_written_where_both_changed_the_same_line(revised: Path, folder: Path, run: Run) -> None:
    edited(folder, "at_mm = [330, 60, -20]", "at_mm = [325, 60, -20]")
    mine = (folder / TRACK).read_text()
    answer = run("import", revised, folder, "--no-questions")
    assert answer.status == 1
    assert "Nothing was written" in answer.out
    assert "325" in answer.out
    assert (folder / TRACK).read_text() == mine
    assert "320" in (folder / WAITING / TRACK).read_text()
    assert not (folder / BACKUPS).exists()


@pytest.mark.slow
def test_with_yes_the_builders_line_gives_way_after_a_backup(revised: Path, folder: Path, run: Run) -> None:
    edited(folder, "at_mm = [330, 60, -20]", "at_mm = [325, 60, -20]")
    edited(folder, 'title = "track"', 'title = "Track of the slider"')
    mine = (folder / TRACK).read_text()
    facts = run("import", revised, folder, "--yes", "--json").json
    assert facts["files"][TRACK] == "conflict"
    assert (folder / facts["backup"] / TRACK).read_text() == mine
    assert "Track of the slider" in (folder / TRACK).read_text()  # a line that the file does not speak of
    assert "320" in (folder / TRACK).read_text()


@pytest.mark.slow
def test_a_folder_that_was_written_by_hand_does_not_give_way(slider: Path, tmp_path: Path, run: Run) -> None:
    shutil.copytree(REED, tmp_path / "mine", ignore=shutil.ignore_patterns(".*"))
    before = {file: file.read_bytes() for file in (tmp_path / "mine").rglob("*") if file.is_file()}
    answer = run("import", slider, tmp_path / "mine", "--no-questions")
    assert answer.status == 1
    assert {file: file.read_bytes() for file in before} == before


@pytest.mark.slow
def test_a_unit_that_is_gone_is_taken_out_unless_the_builder_changed_it(
    slider: Path, folder: Path, run: Run
) -> None:
    for place in (folder, folder / BASE):
        (place / "units" / "old.toml").write_text('[unit]\ntitle = "Old"\n')
        (place / "units" / "mine.toml").write_text('[unit]\ntitle = "Old"\n')
    (folder / "units" / "mine.toml").write_text('[unit]\ntitle = "Mine"\n')
    facts = run("import", slider, folder, "--no-questions", "--json").json
    assert (facts["files"]["units/old.toml"], facts["files"]["units/mine.toml"]) == ("retired", "left")
    assert not (folder / "units" / "old.toml").exists()
    assert (folder / facts["backup"] / "units" / "old.toml").exists()
    assert (folder / "units" / "mine.toml").exists()


@pytest.mark.slow
def test_steps_that_name_what_is_gone_are_told_and_kept(slider: Path, folder: Path, run: Run) -> None:
    (folder / "steps.toml").write_text(
        '[[step]]\nid = "one"\ntitle = "One"\nunit = "track"\nactions = [{ place = "nonesuch" }]\n'
    )
    answer = run("import", slider, folder, "--no-questions")
    assert answer.status == 1
    assert "steps.toml" in answer.out
    assert "nonesuch" in answer.out
    assert "nonesuch" in (folder / "steps.toml").read_text()


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("cut.step", "ISO-10303-21;\nHEADER;\n" + " " * 200, "cut short"),
        ("notes.step", "my own notes", "STEP, STL or 3MF"),
        ("empty.step", "", "an empty file"),
    ],
)
def test_a_file_that_is_no_assembly_is_told(
    tmp_path: Path, run: Run, name: str, content: str, said: str
) -> None:
    (tmp_path / name).write_text(content)
    answer = run("import", tmp_path / name, tmp_path / "new", "--no-questions")
    assert answer.status == 2
    assert said in answer.err
    assert "Traceback" not in answer.err
    assert not (tmp_path / "new").exists()


def test_a_memory_that_cannot_be_read_is_told_before_the_work(slider: Path, tmp_path: Path, run: Run) -> None:
    (tmp_path / "imports.toml").write_text("[[ruling]\n")
    answer = run("import", slider, tmp_path, "--no-questions")
    assert answer.status == 2
    assert "imports.toml" in answer.err


QUESTION = Question(
    shape=0,
    digest="abc",
    about="designation",
    called="nut",
    pieces=4,
    choices=("ISO 4032 M3", "DIN 934 M3", OWN),
    confidence=0.7,
    evidence=("six flats, 5.5 across",),
)


def answering(monkeypatch: pytest.MonkeyPatch, *answers: object) -> None:
    given = iter(answers)
    monkeypatch.setattr(click, "prompt", lambda *_args, **_named: next(given))


@pytest.mark.parametrize(
    ("answers", "says"),
    [
        (("y",), "ISO 4032 M3"),
        (("perhaps", "no", 1), "DIN 934 M3"),
        (("n", 2), OWN),
    ],
)
def test_an_unsure_part_is_asked_with_yes_or_no(
    monkeypatch: pytest.MonkeyPatch, answers: tuple[object, ...], says: str
) -> None:
    answering(monkeypatch, *answers)
    assert import_ask.asked([QUESTION]) == [Ruling(shape="abc", says=says, called="nut")]


def test_what_is_answered_at_the_bench_survives_a_new_revision(
    slider: Path, revised: Path, tmp_path: Path, run: Run
) -> None:
    for number, step in enumerate((slider, revised)):
        named = step.read_text().replace("'foot'", "'foot, printed'")
        (tmp_path / f"{number}.step").write_text(named)
    folder = tmp_path / "slider"
    run("import", str(tmp_path / "0.step"), str(folder), "--no-questions")
    asked = read_asked(folder)
    (question,) = asked.still_open(read_kept(folder))
    assert question.about == "printed"
    assert part_svg(asked, question.digest).startswith("<svg")
    keep(folder, read_kept(folder).with_rulings([Ruling(shape=question.digest, printed=True)]))
    run("import", str(tmp_path / "1.step"), str(folder), "--no-questions")
    assert read_kept(folder).rulings[question.digest].printed is True
    assert read_asked(folder).still_open(read_kept(folder)) == ()
    assert any(part.kind == "printed" for part in load_machine(folder).types.values())


def test_stop_leaves_the_rest_open(monkeypatch: pytest.MonkeyPatch) -> None:
    answering(monkeypatch, "stop")
    assert import_ask.asked([QUESTION, QUESTION]) == []


def test_printed_parts_are_asked_and_yes_to_all_says_nothing_of_them(monkeypatch: pytest.MonkeyPatch) -> None:
    printed = Question(
        shape=1, digest="d", about="printed", called="clamp", pieces=1, choices=("printed", "bought"),
        confidence=0.5, evidence=("drawn in triangles",),
    )  # fmt: skip
    answering(monkeypatch, "yes")
    assert import_ask.asked([printed]) == [Ruling(shape="d", printed=True, called="clamp")]
    assert import_ask.agreed([printed, QUESTION]) == [Ruling(shape="abc", says="ISO 4032 M3", called="nut")]


def test_what_was_ruled_is_read_back_the_same() -> None:
    memory = Memory(
        source='odd "name".step',
        digest="0f",
        rulings={
            "a": Ruling(shape="a", says="ISO 4032 M3", called="Mutter · M3"),
            "b": Ruling(shape="b", printed=False),
        },
        types={"c": "part-1"},
    )
    assert read_memory(memory_text(memory)) == memory


@pytest.mark.parametrize(
    "text",
    [
        "[[ruling]]\n",
        '[[ruling]]\nshape = "a"\nprinted = "yes"\n',
        '[[ruling]]\nshape = "a"\nit = "b"\n',
        "types = 3",
    ],
)
def test_a_ruling_that_says_nothing_sensible_is_told(text: str) -> None:
    with pytest.raises(ReadingError) as caught:
        read_memory(text)
    assert caught.value.where.file == "imports.toml"


@pytest.mark.parametrize(
    ("mine", "theirs", "text", "agree"),
    [
        ("a\nB\nc\n", "a\nb\nc\n", "a\nB\nc\n", True),
        ("a\nb\nc\n", "a\nb\nC\n", "a\nb\nC\n", True),
        ("A\nb\nc\n", "a\nb\nC\n", "A\nb\nC\n", True),
        ("a\nX\nc\n", "a\nY\nc\n", "a\nY\nc\n", False),
        ("a\nX\nc\n", "a\nX\nc\n", "a\nX\nc\n", True),
        ("a\nc\n", "a\nb\nc\nd\n", "a\nc\nd\n", True),
        ("", "a\nb\nc\n", "", True),
    ],
)
def test_three_texts_become_one(mine: str, theirs: str, text: str, agree: bool) -> None:
    assert merged("a\nb\nc\n", mine, theirs) == (text, agree)


def test_a_difference_names_both_sides() -> None:
    lines = differences("a\nb\n", "a\nc\n", TRACK)
    assert lines[:2] == [f"--- {TRACK} (yours)", f"+++ {TRACK} (from the file)"]
    assert lines[-2:] == ["-b", "+c"]
