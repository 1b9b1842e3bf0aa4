"""A call that cannot be done as it stands is answered in our own words, with an example that runs."""

from __future__ import annotations

import shlex

import click
import pytest

from command_line import Run
from trysquare.cli.main import main, trysquare
from trysquare.cli.teaching import Taught
from trysquare.cli.typed import as_people_write

WRONG_CALLS = (
    (("check",), "FOLDER is missing: a machine folder: machine.toml and what stands beside it."),
    (("check", "demo/larch", "--pper", "x"),
     "trysquare check has no option '--pper'. Did you mean '--paper'?"),
    (("check", "-x", "demo/larch"), "trysquare check has no option '-x'."),
    (("check", "demo/larch", "extra"), "Too many words: 'extra'; trysquare check takes FOLDER and no more."),
    (("need", "demo/larch", "--steps=3"), "--steps takes no value: write it alone."),
    (("tune", "belt", "--length-mm"), "--length-mm is followed by nothing; expected MM after it."),
    (("tune", "belt", "--length-mm", "abc"),
     "--length-mm: read 'abc'; expected a number. Write it in mm, as 0.25"),
    (("tune", "belt", "--length-mm", "1.000,5"), "--length-mm: read '1.000,5'; expected a number."),
    (("tune", "belt", "--length-mm", "3kg"), "“kg” is a mass; this option is in mm."),
    (("tune", "belt", "--length-mm", "-4"),
     "--length-mm: read '-4'; expected a number above 0, at most 1000000 mm."),
    (("tune", "drive", "--teeth", "20.5"), "--teeth: read '20.5'; expected a whole number."),
    (("tune", "drive", "--teeth", "2"), "--teeth: read '2'; expected a whole number from 5 to 500."),
    (("tune", "drive", "--teeth", "1e999"), "--teeth: read '1e999'; expected a number."),
    (("tune", "drive", "--ohm", "nan"), "--ohm: read 'nan'; expected a number."),
    (("book", "demo/larch", "--page-size", "lettre"),
     "read 'lettre'; expected a4 or letter. Did you mean 'letter'?"),
    (("--jsn",), "trysquare has no option '--jsn'. Known: --help, --version."),
)  # fmt: skip


def plain(text: str) -> str:
    """Words alone: a terminal breaks its lines anywhere."""
    return " ".join(text.split())


@pytest.mark.parametrize(("call", "says"), WRONG_CALLS, ids=[" ".join(call) for call, _ in WRONG_CALLS])
def test_a_wrong_call_is_answered_in_our_words(run: Run, call: tuple[str, ...], says: str) -> None:
    answer = run(*call)
    assert answer.status == 2
    assert says in plain(answer.err)
    assert "--help" in answer.err.splitlines()[-1]
    for library in ("Invalid value", "No such option", "is not a valid", "Missing argument", "unexpected"):
        assert library not in answer.err


def test_the_example_of_an_answer_stands_whole_on_its_own_line_and_has_the_option(run: Run) -> None:
    (line,) = [row for row in run("cuts", "x", "--kerf-mm", "wide").err.splitlines() if "For example" in row]
    example = shlex.split(line.partition(": ")[2])
    assert example[:2] == ["trysquare", "cuts"]
    assert "--kerf-mm" in example


def value_of(text: str, metavar: str, kind: click.ParamType) -> object:
    """What an option of this kind reads."""
    option = click.Option(["--it"], type=kind, metavar=metavar)
    as_people_write(option)
    return option.type.convert(text, option, None)


@pytest.mark.parametrize(
    ("text", "value"),
    [("0.05", 0.05), ("0,05", 0.05), ("0.05mm", 0.05), ("0,05 mm", 0.05), ("2 in", 50.8), ("4cm", 40.0),
     ("1e2", 100.0), (".5", 0.5)],
)  # fmt: skip
def test_a_number_may_have_a_decimal_comma_or_its_unit(text: str, value: float) -> None:
    assert value_of(text, "MM", click.FloatRange(0, 1000)) == pytest.approx(value)


def test_a_whole_number_stays_a_whole_number() -> None:
    value = value_of("20", "N", click.IntRange(5, 500))
    assert value == 20
    assert isinstance(value, int)


def test_options_that_share_one_type_keep_each_their_unit() -> None:
    shared = click.FloatRange(0, 1000)
    assert value_of("2 in", "MM", shared) == pytest.approx(50.8)
    with pytest.raises(click.BadParameter, match="this option is in W"):
        value_of("2 in", "WATT", shared)


def test_a_decimal_comma_gives_the_same_answer_as_a_point(run: Run) -> None:
    calls = [("tune", "belt", "--tone", tone, "--length-mm", length, "--mass", "8,4g/m".replace("g/m", unit))
             for tone, length, unit in (("112,5", "335mm", ""), ("112.5Hz", "33.5 cm", "g/m"))]  # fmt: skip
    one, other = (run(*call) for call in calls)
    assert one.status == other.status
    assert one.out == other.out != ""


def every_command(group: click.Group, context: click.Context) -> list[click.Command]:
    found: list[click.Command] = []
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None
        found += every_command(command, context) if isinstance(command, click.Group) else [command]
    return found


def test_every_number_and_choice_of_every_command_takes_what_people_write() -> None:
    context = click.Context(trysquare)
    bare = [
        f"{command.name} {parameter.opts[-1]}"
        for command in every_command(trysquare, context)
        if isinstance(command, Taught)
        for parameter in command.params
        if type(parameter.type)
        in (click.FloatRange, click.IntRange, click.Choice, type(click.FLOAT), type(click.INT))
    ]
    assert bare == []


def test_a_wrong_call_of_main_gives_its_status_and_no_traceback(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["tune", "skew", "--limit"]) == 2
    assert "Traceback" not in capsys.readouterr().err
