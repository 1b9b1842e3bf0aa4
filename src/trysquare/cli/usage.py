"""What was wrong in a call, in our own words: what was read, what is meant perhaps, an example, the help."""

from __future__ import annotations

import re
import shlex
from typing import TYPE_CHECKING

import click

from trysquare.cli.teaching import Taught
from trysquare.cli.words import one_line, sentence
from trysquare.ground.errors import nearest

if TYPE_CHECKING:
    from collections.abc import Sequence

_EXTRA = re.compile(r"^Got unexpected extra arguments? \((?P<words>.*)\)$", re.DOTALL)


def usage_words(error: click.ClickException) -> tuple[str, ...]:
    """The answer to a call that cannot be done as it stands; an example has its own line, to be copied."""
    context = getattr(error, "ctx", None)
    path = context.command_path if context is not None else "trysquare"
    command = context.command if context is not None else None
    says, option = _says(error, command, path)
    example = _example(command, option) if _is_about_the_call(error) else ""
    see = f"See: {path} --help"
    return (sentence(says), f"For example: {example}", see) if example else (f"{sentence(says)} {see}",)


def _is_about_the_call(error: click.ClickException) -> bool:
    """Whether the words are the option reader's; those of a command have their example in them."""
    if isinstance(error, click.NoSuchOption | click.BadOptionUsage | click.MissingParameter):
        return True
    return isinstance(error, click.BadParameter) or _EXTRA.match(error.format_message()) is not None


def _says(error: click.ClickException, command: click.Command | None, path: str) -> tuple[str, str]:
    """The words, and the option they are about ("": none)."""
    if isinstance(error, click.NoSuchOption):
        option = one_line(error.option_name)
        near = nearest(option, _options(command)) if option.startswith("--") else ""
        return f"{path} has no option '{option}'. {near}".rstrip(), near[near.find("--") : -2]
    if isinstance(error, click.BadOptionUsage):
        parameter = _parameter(command, error.option_name)
        if parameter is not None and isinstance(parameter, click.Option) and parameter.is_flag:
            return f"{error.option_name} takes no value: write it alone", error.option_name
        metavar = (parameter.metavar or "") if parameter is not None else ""
        what = metavar or _choices(parameter) or "its value"
        return f"{error.option_name} is followed by nothing; expected {what} after it", error.option_name
    if isinstance(error, click.MissingParameter) and error.param is not None:
        name = (error.param.metavar or error.param.human_readable_name).strip("[]…")
        means = dict(command.inputs).get(name, "") if isinstance(command, Taught) else ""
        return f"{name} is missing{f': {means}' if means else ''}", ""
    if isinstance(error, click.BadParameter) and error.param is not None:
        name = max(error.param.opts, key=len)
        if isinstance(error.param, click.Argument):
            name = (error.param.metavar or name).strip("[]…")
        return f"{name}: {one_line(error.message)}", name
    extra = _EXTRA.match(error.format_message())
    if extra:
        return _too_many(command, path, extra["words"]), ""
    return one_line(error.format_message()), ""


def _too_many(command: click.Command | None, path: str, words: str) -> str:
    taken = [each for each in (command.params if command else ()) if isinstance(each, click.Argument)]
    names = ", ".join((each.metavar or each.human_readable_name).strip("[]") for each in taken)
    takes = f"{path} takes {names or 'no word'} and no more" if names else f"{path} takes options only"
    return f"Too many words: '{one_line(words)}'; {takes}. A name with blanks goes in quotes"


def _options(command: click.Command | None) -> list[str]:
    return ["--help", *(name for each in (command.params if command else ()) for name in each.opts
                        if name.startswith("--"))]  # fmt: skip


def _parameter(command: click.Command | None, name: str) -> click.Parameter | None:
    params: Sequence[click.Parameter] = command.params if command else ()
    return next((each for each in params if name in (*each.opts, *each.secondary_opts)), None)


def _choices(parameter: click.Parameter | None) -> str:
    if parameter is None or not isinstance(parameter.type, click.Choice):
        return ""
    return " or ".join(str(choice) for choice in parameter.type.choices)


def _example(command: click.Command | None, option: str) -> str:
    """An example of the help, one with this option if there is one."""
    if not isinstance(command, Taught):
        return ""
    for example in command.examples:
        if option and option in [word.partition("=")[0] for word in shlex.split(example)]:
            return example
    return command.examples[0] if command.examples else ""
