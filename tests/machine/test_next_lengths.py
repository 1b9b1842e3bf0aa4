"""A stack between two lengths on sale: what each of them lacks, and which thickness would make it fit."""

from __future__ import annotations

import pytest

from trysquare.machine.recipes.screw_words import no_length_words
from trysquare.machine.stack import Stack, fits, next_lengths, suggested_length_mm

STACK = Stack(thread_from_mm=6.7, thread_to_mm=10.7, room_mm=12.1, least_mm=4.0)
SCREW = ("ISO 7380-1", "M5")


def thicker(by_mm: float) -> Stack:
    return Stack(thread_from_mm=6.7 + by_mm, thread_to_mm=10.7 + by_mm, room_mm=12.1 + by_mm, least_mm=4.0)


def test_the_lengths_beside_a_stack_that_none_fits_are_told() -> None:
    assert suggested_length_mm(STACK, *SCREW) is None
    short, long = next_lengths(STACK, *SCREW)
    assert (short.length_mm, long.length_mm) == (10.0, 12.0)
    assert short.by_mm == pytest.approx(-0.7)
    assert long.by_mm > 0


def test_each_length_fits_anywhere_within_the_thickness_told_and_nowhere_beside_it() -> None:
    short, long = next_lengths(STACK, *SCREW)
    for one, sign in ((short, -1.0), (long, 1.0)):
        for by_mm in (one.least_mm + 0.01, one.most_mm - 0.01):
            assert fits(thicker(sign * by_mm), one.length_mm)
        for by_mm in (one.least_mm - 0.01, one.most_mm + 0.01):
            assert not fits(thicker(sign * by_mm), one.length_mm)


def test_the_words_name_both_and_what_to_do() -> None:
    says, remedy = no_length_words("ISO 7380-1 M5", STACK, next_lengths(STACK, *SCREW))
    assert "10 mm is 0.7 mm too short" in says
    assert "12 mm, as it may be delivered" in says
    assert remedy.startswith("Clamp 0.7 to ")
    assert remedy.endswith("or take another nut.")
