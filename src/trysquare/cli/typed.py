"""What is typed for an option: a number with a decimal comma or its unit, one of several words."""

from __future__ import annotations

import contextlib
import math
from typing import Any

import click

UNITS = {
    "MM": "mm", "HZ": "Hz", "G/M": "g/m", "NEWTON": "N", "GRAM": "g", "MM/S2": "mm/s²", "MM/S": "mm/s",
    "PERCENT": "%", "TURNS": "turns", "WATT": "W", "VOLT": "V", "AMPERE": "A", "OHM": "Ω", "CELSIUS": "°C",
    "SECONDS": "s", "HOURS": "h", "DEGREES": "°", "KG": "kg", "MH": "mH", "NM": "N·m", "CM2": "cm²",
    "MINUTES": "min", "MA": "mA", "KELVIN": "K", "W/K": "W/K",
}  # fmt: skip
"""The unit of an option by the word that stands for its value in the help."""

_NO_UNITS = ("N", "NUMBER", "COUNTS")
_MORE_UNITS = {"LENGTH": "mm", "PIXELS": "px", "MM/100": "mm/100"}


class _Number:
    """Reads what a number type of click reads, and what people write: 0,05 and 0.05mm and 2 in."""

    metavar = ""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number in the option's unit. Raises click.BadParameter, in our words."""
        whole = isinstance(self, click.types.IntParamType)
        number = self._number(value, param, ctx)
        if whole and number != int(number):
            raise click.BadParameter(f"read '{_shown(value)}'; expected a whole number.", ctx, param)
        low, high = getattr(self, "min", None), getattr(self, "max", None)
        below = low is not None and (number < low or (number == low and getattr(self, "min_open", False)))
        above = high is not None and (number > high or (number == high and getattr(self, "max_open", False)))
        if below or above:
            said = f"read '{_shown(value)}'; expected {'a whole number' if whole else 'a number'} "
            raise click.BadParameter(said + self._range() + ".", ctx, param)
        return int(number) if whole else number

    def _number(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        with contextlib.suppress(TypeError, ValueError, OverflowError):
            number = float(value)
            if math.isfinite(number) and "_" not in str(value):
                return number
        from trysquare.bench.typed_number import NOT_A_NUMBER, typed_number

        unit = unit_of(self.metavar)
        typed = typed_number(str(value), unit)
        if typed.value is not None:
            return typed.value
        says = f"read '{_shown(value)}'; expected a number."
        if typed.says not in ("", NOT_A_NUMBER):
            says += f" {typed.says.replace('this field is', 'this option is')}"
        elif unit:
            says += f" Write it in {unit}, as 0.25 or 0,25, with or without the unit."
        else:
            says += " Write it as 0.25 or 0,25."
        raise click.BadParameter(says, ctx, param)

    def _range(self) -> str:
        low, high = getattr(self, "min", None), getattr(self, "max", None)
        unit = unit_of(self.metavar)
        named = f" {unit}" if unit else ""
        first = "above" if getattr(self, "min_open", False) else "from"
        if high is None:
            return f"{first} {_plain(low or 0)}{named}{' on' if first == 'from' else ''}"
        last = "below" if getattr(self, "max_open", False) else "at most" if first == "above" else "to"
        start = f"{first} {_plain(low)}" if low is not None else ""
        comma = "," if start and first == "above" else ""
        return f"{start}{comma} {last} {_plain(high)}{named}".strip()


class _Float(_Number, click.types.FloatParamType):
    pass


class _FloatRange(_Number, click.FloatRange):
    pass


class _Int(_Number, click.types.IntParamType):
    pass


class _IntRange(_Number, click.IntRange):
    pass


class _OneOf(click.Choice[Any]):
    """One of several words; says the nearest to what was read."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        try:
            return super().convert(value, param, ctx)
        except click.BadParameter:
            from trysquare.ground.errors import nearest

            words = [str(choice) for choice in self.choices]
            near = nearest(str(value), words)
            meant = f" {near}" if near.startswith("Did") else ""
            says = f"read '{_shown(value)}'; expected {', '.join(words[:-1])} or {words[-1]}.{meant}"
            raise click.BadParameter(says, ctx, param) from None


_OURS: dict[type[Any], type[Any]] = {
    click.FloatRange: _FloatRange,
    click.IntRange: _IntRange,
    click.types.FloatParamType: _Float,
    click.types.IntParamType: _Int,
    click.Choice: _OneOf,
}


def as_people_write(parameter: click.Parameter) -> None:
    """Lets a number or choice option take what people write; a type that serves several options is copied."""
    ours = _OURS.get(type(parameter.type))
    if ours is None:
        return
    kind: Any = object.__new__(ours)
    kind.__dict__.update(parameter.type.__dict__)
    if isinstance(kind, _Number):
        kind.metavar = parameter.metavar or ""
    parameter.type = kind


def unit_of(metavar: str) -> str:
    """The unit in which an option is given; empty for a bare number."""
    if metavar in _NO_UNITS:
        return ""
    return UNITS.get(metavar) or _MORE_UNITS.get(metavar, "")


def _shown(value: object) -> str:
    from trysquare.cli.words import one_line

    text = one_line(value)
    return text if len(text) <= 60 else text[:59] + "…"


def _plain(value: float) -> str:
    return f"{value:.0f}" if value == int(value) else f"{value:g}"
