"""One machine, and its papers set once, for all tests that only look at them."""

from __future__ import annotations

import pytest

from publish.machines import listed
from trysquare.catalogue.label_sheets import label_sheet
from trysquare.machine.values import Machine
from trysquare.publish.fastener_sheet import fastener_sheet_pdf
from trysquare.publish.labels import labels_of, labels_pdf
from trysquare.publish.sorting_sheet import sorting_sheet_pdf
from trysquare.publish.sorts import Labelled, labelled_sorts


@pytest.fixture(scope="package")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Machine:
    return listed(tmp_path_factory.mktemp("tray") / "tray")


@pytest.fixture(scope="package")
def sorts(machine: Machine) -> tuple[Labelled, ...]:
    return labelled_sorts(machine)


@pytest.fixture(scope="package")
def labels(machine: Machine, sorts: tuple[Labelled, ...]) -> bytes:
    return labels_pdf(machine, labels_of(sorts), label_sheet("a4-cut")).pdf


@pytest.fixture(scope="package")
def fasteners(machine: Machine, sorts: tuple[Labelled, ...]) -> dict[str, bytes]:
    return {paper: fastener_sheet_pdf(machine, sorts, paper).pdf for paper in ("a4", "letter")}


@pytest.fixture(scope="package")
def sorting(machine: Machine) -> bytes:
    return sorting_sheet_pdf(machine, "a4").pdf
