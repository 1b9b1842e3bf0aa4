"""What a characteristic measures: a body moved by a known amount, and what its components then say."""

from __future__ import annotations

import numpy as np
import pytest

from trysquare.ground.placement import Array
from trysquare.machine.values import Machine
from trysquare.truing.bodies import assembly_of
from trysquare.truing.characteristics import Components, components_of
from trysquare.truing.equations import EquationsBuilder
from trysquare.truing.model import ModelBuilder


class Posed:
    """The demo machine with one body moved."""

    def __init__(self, machine: Machine) -> None:
        self.assembly = assembly_of(machine)
        self.builder = ModelBuilder(self.assembly)
        self.build: EquationsBuilder = self.builder.build
        self.components: Components = components_of(self.assembly, self.build)

    def values(self, name: str, move: dict[str, tuple[int, float]]) -> dict[str, float]:
        """Components of a characteristic when bodies are moved: place 0 to 2 along x y z, 3 to 5 about."""
        x = np.zeros(len(self.build.names))
        for part, (place, size) in move.items():
            number = self.assembly.number(part)
            assert number is not None
            x[self.build.column(number, place)] = size
        return self._named(name, x)

    def longer(self, name: str, part: str, by_mm: float) -> dict[str, float]:
        x = np.zeros(len(self.build.names))
        number = self.assembly.number(part)
        assert number is not None
        x[self.build.lengths[number]] = by_mm
        return self._named(name, x)

    def _named(self, name: str, x: Array) -> dict[str, float]:
        values = self.components.values(x)
        return {
            row.says: float(value)
            for row, value in zip(self.components.rows, values, strict=True)
            if row.characteristic == name
        }


@pytest.fixture(scope="module")
def posed(larch: Machine) -> Posed:
    return Posed(larch)


def test_a_beam_turned_by_a_thousandth_is_a_tenth_out_of_square_per_100(posed: Posed) -> None:
    found = posed.values("base-square", {"base/left-base": (5, 0.001)})
    # turned anticlockwise from above, its back end goes left: the inside angle at the front opens
    assert found["base/front-base to base/left-base"] == pytest.approx(0.1, rel=1e-5)
    assert found["base/back-base to base/left-base"] == pytest.approx(-0.1, rel=1e-5)
    assert found["base/front-base to base/right-base"] == pytest.approx(0.0, abs=1e-9)


def test_an_upright_is_held_against_the_base_in_both_directions(posed: Posed) -> None:
    found = posed.values("uprights-square", {"uprights/left-front": (4, 0.001)})
    # turned about +y its top goes to the right: the inside angle closes
    assert found["uprights/left-front to base/front-base"] == pytest.approx(-0.1, rel=1e-5)
    assert found["uprights/left-front to base/left-base"] == pytest.approx(0.0, abs=1e-9)
    assert len(found) == 8


def test_twist_is_how_high_the_fourth_corner_stands(posed: Posed) -> None:
    (flat,) = posed.values("base-twist", {"base/back-base": (2, 0.5)}).values()
    (twisted,) = posed.values("base-twist", {"base/back-base": (4, 0.001)}).values()
    assert flat == pytest.approx(0.0, abs=1e-9)  # all of its back higher is a slope, no twist
    assert abs(twisted) == pytest.approx(0.42, rel=1e-5)  # 420 mm long, one end 0.21 up, the other down


def test_rails_are_parallel_in_two_directions(posed: Posed) -> None:
    away = posed.values("y-rails-parallel", {"y-rails/right-rail": (5, 0.001)})
    twisted = posed.values("y-rails-parallel", {"y-rails/right-rail": (3, 0.001)})
    assert away["y-rails/right-rail away from y-rails/left-rail"] == pytest.approx(-0.28, rel=1e-5)
    assert away["y-rails/right-rail twisted to y-rails/left-rail"] == pytest.approx(0.0, abs=1e-6)
    assert abs(twisted["y-rails/right-rail twisted to y-rails/left-rail"]) == pytest.approx(0.28, rel=1e-5)


def test_height_difference_and_offset_are_the_shift_itself(posed: Posed) -> None:
    (higher,) = posed.values("y-rails-level", {"y-rails/right-rail": (2, 0.07)}).values()
    (further,) = posed.values("left-rail-offset", {"y-rails/left-rail": (1, 0.3)}).values()
    (longer,) = posed.longer("left-rail-offset", "carry/left-carry", 0.4).values()
    assert higher == pytest.approx(0.07, abs=1e-9)
    assert further == pytest.approx(0.3, abs=1e-9)
    assert longer == pytest.approx(0.2, abs=1e-9)  # half at either end


def test_turning_the_whole_machine_changes_no_component(posed: Posed) -> None:
    x = np.zeros(len(posed.build.names))
    turn = np.array([0.002, -0.003, 0.004])
    for number, body in enumerate(posed.assembly.bodies):
        first = posed.build.column(number)
        from trysquare.truing.equations import rotated

        x[first + 3 : first + 6] = turn
        x[first : first + 3] = rotated(turn[None], body.centre_mm[None])[0] - body.centre_mm + 1.5
    values = posed.components.values(x)
    twist = [index for index, row in enumerate(posed.components.rows) if "corner" in row.says]
    rest = np.delete(values, twist)
    assert np.abs(rest).max() < 1e-8
    # its direction stands still in space, so that of a frame turned by 0.005 is seen as 1e-5 shorter
    assert np.abs(values[twist]).max() < 1e-6
