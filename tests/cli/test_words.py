"""How paths and names are worded in a line."""

from __future__ import annotations

from trysquare.cli import words


def test_a_path_is_said_as_it_is_typed_in_a_command_line() -> None:
    assert words.quoted("demo/larch") == "demo/larch"
    assert words.quoted("Plotter Größe 3") == "'Plotter Größe 3'"
    assert words.quoted("it's\nhere") == "'it'\"'\"'s here'"
