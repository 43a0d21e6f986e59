"""Fixtures shared by all tests: the ready-made benches with their fields computed once."""

import pytest
from hypothesis import HealthCheck, settings

from glowtrace.bench.prepared import PreparedBench, prepare
from glowtrace.bench.ready_made import ready_made

# No example fails because the machine is busy, and the same code gives the same result twice;
# `--hypothesis-profile=searching` draws new examples.
for profile, is_steady in {"steady": True, "searching": False}.items():
    settings.register_profile(
        profile,
        deadline=None,
        derandomize=is_steady,
        suppress_health_check=[HealthCheck.too_slow],
    )
settings.load_profile("steady")


@pytest.fixture(scope="session")
def deflection_tube() -> PreparedBench:
    return prepare(ready_made("deflection tube"))


@pytest.fixture(scope="session")
def fine_beam_bulb() -> PreparedBench:
    return prepare(ready_made("fine-beam bulb"))


@pytest.fixture(scope="session")
def axial_coil_tube() -> PreparedBench:
    return prepare(ready_made("axial coil tube"))
