"""Fixtures shared by all tests: the ready-made benches with their fields computed once."""

import pytest

from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.bench.ready_made import ready_made


@pytest.fixture(scope="session")
def deflection_tube() -> PreparedBench:
    return prepare(ready_made("deflection tube"))


@pytest.fixture(scope="session")
def fine_beam_bulb() -> PreparedBench:
    return prepare(ready_made("fine-beam bulb"))


@pytest.fixture(scope="session")
def axial_coil_tube() -> PreparedBench:
    return prepare(ready_made("axial coil tube"))
