"""The Earth's field: what it covers and what is refused."""

import datetime
import math

import numpy as np
import pytest

from glowtrace.errors import FieldMapError
from glowtrace.fields.earth import earth_flux_density

DATE = datetime.date(2025, 1, 1)


@pytest.mark.parametrize(
    ("place", "date", "words"),
    [
        ((1.6, 0.0, 0.0), DATE, "latitude.*1.6 rad"),
        ((0.5, 7.0, 0.0), DATE, "longitude.*7.0 rad"),
        ((0.5, 0.0, 1e6), DATE, "altitude.*1000000.0 m"),
        ((math.nan, 0.0, 0.0), DATE, "latitude"),
        ((0.5, 0.0, 0.0), datetime.date(2030, 1, 2), "2030-01-02.*1900-01-01 to 2030-01-01"),
        ((0.5, 0.0, 0.0), datetime.date(1899, 12, 31), "1899-12-31"),
    ],
)
def test_places_and_dates_outside_the_model_are_refused(place, date, words):
    with pytest.raises(FieldMapError, match=words):
        earth_flux_density(*place, date, 0.0)


def test_heading_must_be_a_number():
    with pytest.raises(FieldMapError, match="heading: inf"):
        earth_flux_density(0.5, 0.0, 0.0, DATE, math.inf)


def test_first_and_last_day_and_a_time_of_day_are_covered():
    days = [datetime.date(1900, 1, 1), datetime.date(2030, 1, 1), datetime.datetime(2025, 1, 1, 12)]
    fields = [earth_flux_density(0.5, 0.1, 0.0, day, 0.0) for day in days]
    assert np.isfinite(fields).all()
    assert np.array_equal(fields[2], earth_flux_density(0.5, 0.1, 0.0, DATE, 0.0))


def test_a_turn_of_longitude_and_of_heading_changes_nothing():
    here = earth_flux_density(0.5, -1.0, 100.0, DATE, 0.3)
    same = earth_flux_density(0.5, 2 * math.pi - 1.0, 100.0, DATE, 0.3 + 2 * math.pi)
    assert here == pytest.approx(same, rel=1e-9)
