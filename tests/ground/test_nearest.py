"""The nearest known word to one that is not known."""

from __future__ import annotations

import pytest

from trysquare.ground.errors import nearest
from trysquare.machine.fields import ACTION


@pytest.mark.parametrize("word", ["sign", "Sign", "sign-of"])
def test_the_beginning_of_a_word_is_nearest_to_that_word(word: str) -> None:
    assert nearest(word, ACTION) == "Did you mean 'sign-off'?"


def test_of_several_that_begin_so_the_shortest_is_meant() -> None:
    assert nearest("rail", ["rail-right", "rail-left", "trail"]) == "Did you mean 'rail-left'?"


def test_a_slip_of_the_pen_is_still_found_and_two_letters_begin_nothing() -> None:
    assert nearest("tihgten", ["tighten", "tie"]) == "Did you mean 'tighten'?"
    assert nearest("ti", ["tighten", "loosen"]) == "Known: loosen, tighten."
