"""`trysquare`: where the command line begins, and the one place where every error ends."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trysquare import __version__
from trysquare.cli.answers import INTERRUPTED, PIPE_CLOSED, UNREADABLE, talk
from trysquare.cli.teaching import SHOWN_WIDTH, Group, write_examples
from trysquare.cli.words import one_line

if TYPE_CHECKING:
    from trysquare.ground.errors import ReadingError, ReadingErrors

_COMMANDS = (
    ("new", "trysquare.cli.new", "Begin your own machine: a folder with a frame that checks."),
    ("import", "trysquare.cli.import_any", "Bring in what you have: a parts list, or a CAD assembly."),
    ("check", "trysquare.cli.check", "See what does not fit before a screw turns."),
    ("need", "trysquare.cli.need", "Know every part, how many, and which joint asks for it."),
    ("stock", "trysquare.cli.stock", "Know what is short, what serves instead, and how far you can build."),
    ("show", "trysquare.cli.show", "Look at one part, joint or step, and who says so."),
    ("why", "trysquare.cli.why", "Understand a finding: what follows and what to do."),
    ("order", "trysquare.cli.order", "Find an order in which everything goes in, and why it must be so."),
    ("slots", "trysquare.cli.slots", "Know what must lie in each slot, and until when it can go in."),
    ("state", "trysquare.cli.state", "See the part-built machine after a step."),
    ("draw", "trysquare.cli.draw", "See one step: what comes in, along which way, and what turns."),
    ("book", "trysquare.cli.book", "Build beside a book of your own machine."),
    ("cuts", "trysquare.cli.cuts", "Saw and drill the frame from a cut list with drawings."),
    ("export", "trysquare.cli.export", "Give the machine to a CAD program or a viewer, at any step."),
    ("cards", "trysquare.cli.cards", "Show each step's parts and tools in a film or on a phone."),
    ("labels", "trysquare.cli.labels", "Print labels, a sheet to lay screws on, and the sorting sheet."),
    ("sort", "trysquare.cli.sort", "Tell parts apart that look alike, and know what a wrong count means."),
    ("changes", "trysquare.cli.changes", "Know what a new version means for what you have built."),
    ("film", "trysquare.cli.film", "Get chapter marks, subtitles, episodes and lists for a film."),
    ("true", "trysquare.cli.true", "Know how true it is, which corner to push, and what to read next."),
    ("tune", "trysquare.cli.tune", "Set belts and motion of the running machine from what you measure."),
    ("bench", "trysquare.cli.bench", "Build with your machine's own pages beside you."),
    ("wrong", "trysquare.cli.wrong", "See which parts also go in wrong, and what to look at before."),
    ("log", "trysquare.cli.log", "See what is done, what it took and what stands open."),
    ("doctor", "trysquare.cli.doctor", "Know what this computer lacks, before you need it."),
)


class _Trysquare(Group):
    def format_help(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        formatter.write_usage(ctx.command_path, "COMMAND …")
        formatter.write_paragraph()
        formatter.write_text(
            "Know before a screw turns that every part is there, that it fits, and in which joint it goes."
        )
        self.format_commands(ctx, formatter)
        write_examples(
            formatter,
            (
                "trysquare check demo/larch",
                "trysquare need demo/larch --steps",
                "trysquare check --help",
            ),
        )
        self.format_options(ctx, formatter)

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        click.Command.format_options(self, ctx, formatter)


trysquare = _Trysquare(
    "trysquare",
    table=_COMMANDS,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": SHOWN_WIDTH},
    no_args_is_help=True,
)
trysquare = click.version_option(__version__, message="trysquare %(version)s")(trysquare)


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs one command and returns its exit status. No exception leaves here."""
    # Its matrices are small: several threads on them only wait for each other. Whoever set it has their way.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if "_TRYSQUARE_COMPLETE" in os.environ:
        trysquare.main(prog_name="trysquare")
    _nowhere_for_closed_streams()
    for stream in (sys.stdout, sys.stderr):
        # A name with odd bytes must not stop the answer: it is printed with a mark in their place.
        with contextlib.suppress(AttributeError, ValueError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    try:
        status = _run(sys.argv[1:] if arguments is None else arguments)
        if sys.stdout is not None:
            sys.stdout.flush()
    except BrokenPipeError:
        # The reader has seen enough. Nothing more may be written, not even while the program ends.
        with contextlib.suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return PIPE_CLOSED
    except (KeyboardInterrupt, click.Abort):
        talk("Stopped.")
        return INTERRUPTED
    return status


def _nowhere_for_closed_streams() -> None:
    """Whoever starts a program may close its streams: what it says goes nowhere then, and not into the next
    file that is opened."""
    if sys.stdout is None:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115, PTH123  # as long as the program
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115, PTH123  # as long as the program


def _run(arguments: Sequence[str]) -> int:
    from trysquare.cli.answers import NotThere
    from trysquare.ground.errors import ReadingError, ReadingErrors

    try:
        with trysquare.make_context("trysquare", list(arguments)) as context:
            status = trysquare.invoke(context)
    except click.exceptions.Exit as done:
        return done.exit_code
    except click.exceptions.NoArgsIsHelpError as asked:
        click.echo(asked.format_message())
        return UNREADABLE
    except click.ClickException as error:
        _usage(error)
        return UNREADABLE
    except NotThere as answer:
        talk(answer.says)
        return UNREADABLE
    except BrokenPipeError:
        raise
    except (ReadingError, ReadingErrors) as error:
        # A shape is first read when something is made of it, in whatever command that is.
        if _debugging():
            raise
        return _unreadable(error, arguments)
    except OSError as error:
        if _debugging():
            raise
        spot = f"{one_line(error.filename)}: " if error.filename is not None else ""
        talk(f"{spot}{error.strerror or error}. Check the path and its rights.")
        return UNREADABLE
    except Exception as error:  # the last line of defence: a sentence, not a traceback
        if _debugging():
            raise
        talk(_failed(error))
        return UNREADABLE
    return status if isinstance(status, int) else 0


def _failed(error: Exception) -> str:
    """What to say of an error that nobody foresaw; a package that is missing is one that can be mended."""
    if isinstance(error, ImportError):
        from trysquare.cli.doctor import missing_words

        return missing_words(error)
    return (
        f"Trysquare failed inside itself ({type(error).__name__}: {one_line(error)[:200]}); your files "
        "are untouched. Set TRYSQUARE_DEBUG=1, run it again, and report what it then prints together "
        "with the machine folder."
    )


def _unreadable(error: ReadingError | ReadingErrors, arguments: Sequence[str]) -> int:
    """Tells what could not be read; the folder is the first one that the call names."""
    from trysquare.cli.answers import tell_problems
    from trysquare.ground.errors import ReadingErrors

    errors = error if isinstance(error, ReadingErrors) else ReadingErrors([error])
    folder = next((word for word in arguments if Path(word).is_dir()), "")
    tell_problems(errors, folder or one_line(arguments[0]), as_json="--json" in arguments)
    return UNREADABLE


def _usage(error: click.ClickException) -> None:
    """What was wrong in the call, and where to read more."""
    from trysquare.cli.usage import usage_words

    for line in usage_words(error):
        talk(line, whole=line.startswith("For example: "))


def _debugging() -> bool:
    return os.environ.get("TRYSQUARE_DEBUG", "") not in ("", "0")


if __name__ == "__main__":
    sys.exit(main())
