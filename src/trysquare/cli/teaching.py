"""Help that teaches: what the user learns, what goes in, examples that run, how it ends."""

from __future__ import annotations

import importlib
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from trysquare.cli.typed import as_people_write

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

SHOWN_WIDTH = 78  # help is a text to read, and no wider than most terminals


def _offered(ctx: click.Context, parameter: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """What the Tab key offers for a value; loaded only when it is pressed."""
    from trysquare.cli.completing import offered

    return offered(ctx, parameter, incomplete)


class Taught(click.Command):
    """A command whose help has the same five parts as every other's.

    `learns` is its first line. `inputs` are pairs of name and meaning. `examples` run as they stand
    from the project's folder. `exits` are pairs of status and meaning.
    """

    def __init__(
        self,
        name: str | None,
        *,
        learns: str,
        inputs: Sequence[tuple[str, str]],
        examples: Sequence[str],
        exits: Sequence[tuple[int, str]],
        **kwargs: Any,
    ) -> None:
        kwargs.setdefault("help", learns)
        kwargs.setdefault("short_help", learns)
        context = {"help_option_names": ["-h", "--help"], "max_content_width": SHOWN_WIDTH}
        super().__init__(name, context_settings=context, **kwargs)
        self.learns, self.inputs, self.examples, self.exits = learns, inputs, examples, exits
        for parameter in self.params:
            as_people_write(parameter)
            if parameter.metavar and parameter._custom_shell_complete is None:  # noqa: SLF001  # click asks it
                parameter._custom_shell_complete = _offered  # noqa: SLF001

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """As click does, but what is no number is no number for any option (a range lets nan through), and
        an option of this command is never taken as the value of another."""
        try:
            rest = super().parse_args(ctx, args)
        except click.UsageError as error:
            error.ctx = error.ctx or ctx  # of an option without its value the reader does not say whose it is
            raise
        options = {word for parameter in self.params for word in (*parameter.opts, *parameter.secondary_opts)}
        for parameter in self.params:
            value = ctx.params.get(parameter.name or "")
            for one in value if isinstance(value, tuple) else (value,):
                if isinstance(one, float) and not math.isfinite(one):
                    raise click.BadParameter(f"read '{one}'; expected a number.", ctx, parameter)
                if isinstance(one, str) and one.startswith("--") and one.partition("=")[0] in options:
                    raise click.BadParameter(
                        f"read '{one}', which is an option itself; expected {parameter.make_metavar(ctx)}.",
                        ctx, parameter,
                    )  # fmt: skip
        return rest

    def format_help(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        formatter.write_usage(ctx.command_path, " ".join(self.collect_usage_pieces(ctx)))
        formatter.write_paragraph()
        formatter.write_text(self.learns)
        with formatter.section("Input"):
            formatter.write_dl(list(self.inputs))
        write_examples(formatter, self.examples)
        self.format_options(ctx, formatter)
        with formatter.section("Exit status"):
            formatter.write_dl([(str(status), meaning) for status, meaning in self.exits])


def write_examples(formatter: click.HelpFormatter, examples: Sequence[str]) -> None:
    """Examples stand as they are typed, never broken over two lines."""
    with formatter.section("Examples"):
        for example in examples:
            formatter.write(f"{'':>{formatter.current_indent}}{example}\n")


class Group(click.Group):
    """Commands that are loaded when they are called, so that the program starts at once.

    `table`: name, module, and the line that the list of commands shows.
    """

    def __init__(self, *args: Any, table: Sequence[tuple[str, str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.table = {name: (module, learns) for name, module, learns in table}

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  # as click calls it
        return list(self.table)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002  # as click calls it
        if cmd_name not in self.table:
            return None
        command = importlib.import_module(self.table[cmd_name][0]).command
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and not args[0].startswith("-") and args[0] not in self.table:
            from trysquare.cli.words import one_line
            from trysquare.ground.errors import nearest

            raise click.UsageError(
                f"There is no command '{one_line(args[0])}'. {nearest(args[0], self.table)}", ctx
            )
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002  # as click calls it
        with formatter.section("Commands"):
            formatter.write_dl([(name, learns) for name, (_, learns) in self.table.items()])


FOLDER_INPUT = ("FOLDER", "a machine folder: machine.toml and what stands beside it")
"""The input that most commands have."""

COMMON_EXITS: tuple[tuple[int, str], ...] = (
    (2, "the folder or the question could not be read; all problems are named"),
)


def paper_option(function: Any) -> Any:
    """Papers laid over a machine from outside its folder."""
    return click.option(
        "--paper",
        "papers",
        metavar="FILE",
        multiple=True,
        help="Lay a paper from outside the folder over it; may be given several times.  [default: none]",
    )(function)


def folder_argument(function: Any) -> Any:
    """The machine folder, and papers laid over it from outside."""
    return click.argument("folder", metavar="FOLDER")(paper_option(function))


def json_option(function: Any) -> Any:
    """The same facts for programs."""
    return click.option(
        "--json", "as_json", is_flag=True, help="The same facts as JSON.  [default: text for people]"
    )(function)
