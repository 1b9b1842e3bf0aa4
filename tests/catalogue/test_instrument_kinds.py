"""Sorts of measuring instruments by their names, and what counts while nobody vouches for one."""

from __future__ import annotations

from trysquare.catalogue.instruments import instrument_kinds, kind_of


def test_a_scale_that_reaches_some_way_is_a_rule_and_else_weighs() -> None:
    rule, scale = kind_of("scale", 300.0), kind_of("scale", 0.0)
    assert rule is not None
    assert scale is not None
    assert (rule.sort, rule.unit, scale.sort, scale.unit) == ("rule", "mm", "scale", "g")


def test_an_instrument_of_an_unknown_sort_has_no_kind() -> None:
    assert kind_of("divining-rod", 1000.0) is None


def test_a_spring_scale_is_a_spring_balance() -> None:
    assert kind_of("spring-scale", 0.0) is instrument_kinds()["spring-balance"]
