"""Named features: where they are, what they are called, and what is said of those that are not there."""

from __future__ import annotations

import pytest

from trysquare.machine.values import Machine
from trysquare.truing.features import Features, UnknownFeature


@pytest.fixture(scope="module")
def features(larch: Machine) -> Features:
    return Features(larch)


@pytest.mark.parametrize(
    ("name", "at_mm", "sort"),
    [
        ("base/left-base:a", (0, 0, 0), "end"),
        ("base/left-base:b", (380, 0, 0), "end"),
        ("base/left-base:+z", (190, 0, 10), "face"),
        ("base/left-base:+z@120", (120, 0, 10), "face"),
        ("base/left-base:+z@b120", (260, 0, 10), "face"),
        ("base/left-base:a+z", (0, 0, 10), "edge"),
        ("base/left-base:b-y+z", (380, -10, 10), "corner"),
        ("y-rails/left-rail:-y", (140, -4.5, 3), "face"),
        ("gantry/left-plate:-x", (0, 30, 2.5), "face"),
    ],
)
def test_a_feature_is_where_its_name_says(
    features: Features, name: str, at_mm: tuple[float, ...], sort: str
) -> None:
    found = features.find(name)
    assert found.at_mm == pytest.approx(at_mm)
    assert found.sort == sort


def test_a_hole_is_a_feature_with_the_way_it_opens(features: Features) -> None:
    found = features.find("y-rails/left-rail:rail.3")
    assert (found.sort, found.normal) == ("hole", (0.0, 0.0, 1.0))


def test_the_order_of_the_sides_does_not_matter(features: Features) -> None:
    assert features.find("left-base:+z+y") == features.find("left-base:+y+z")
    assert features.find("left-base:+z-yb").name == "base/left-base:b-y+z"


def test_an_end_goes_with_the_length_error_and_the_middle_does_not(features: Features) -> None:
    spots = ("left-base:a", "left-base:b", "left-base:+z", "left-base:+z@b20", "left-base:+z@20")
    assert [features.find(name).with_end for name in spots] == [-1, 1, 0, 1, -1]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("left-bas:a", "Did you mean 'left-base'?"),
        ("left-base:c", "It has a, b, +y"),
        ("left-base:+x", "It has a, b, +y"),
        ("left-rail:a", "Write one of y-rails/left-rail, z-rails/left-rail."),
        ("left-base:", "left-base has a, b"),
        ("left-base:+z@500", "base/left-base is 380 mm long."),
        ("left-base:+y-y", "Did you mean '+y-z'?"),
    ],
)
def test_what_is_no_feature_is_answered_with_what_could_be_meant(
    features: Features, name: str, words: str
) -> None:
    with pytest.raises(UnknownFeature) as error:
        features.find(name)
    assert words in error.value.remedy


def test_every_name_that_is_offered_is_a_feature(features: Features, larch: Machine) -> None:
    for part in ("base/left-base", "y-rails/left-rail", "gantry/left-plate", "toolhead/carriage"):
        for name in features.names(larch.part[part]):
            assert features.find(f"{part}:{name}").part == part
