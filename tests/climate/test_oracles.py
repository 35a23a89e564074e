"""Two independent programs of the same equations, on a year of random weather."""

from __future__ import annotations

import numpy as np
import pytest

from scenariokit import climate, quantity

LATITUDE, ELEVATION = 38.5, 240.0


@pytest.fixture(scope="module")
def year():
    """Return a year of random weather as plain floats."""
    rng = np.random.default_rng(56)
    days = np.arange(1.0, 366.0)
    warm = 16 + 12 * np.sin((days - 110) / 365 * 2 * np.pi) + rng.normal(0, 3, 365)
    cold = warm - rng.uniform(3, 16, 365)
    above = climate.extraterrestrial_radiation.floats(LATITUDE, days)
    return {
        "days": days, "warm": warm, "cold": cold, "above": above,
        "solar": above * rng.uniform(0.3, 0.75, 365),
        "moist": rng.uniform(0.65, 1, 365), "dry": rng.uniform(0.2, 0.6, 365),
        "wind": rng.uniform(0.3, 7, 365),
    }  # fmt: skip


@pytest.fixture(scope="module")
def ours(year):
    """Return our Penman-Monteith of it, and the vapour pressure."""
    air = (quantity(year["warm"], "degC"), quantity(year["cold"], "degC"))
    vapour = climate.vapour_pressure_from_humidity(*air, year["moist"], year["dry"])
    clear = climate.clear_sky_radiation(
        quantity(year["above"], "MJ/m^2/day"), quantity(ELEVATION, "m")
    )
    net = climate.net_radiation(quantity(year["solar"], "MJ/m^2/day"), clear, *air, vapour)
    wind = quantity(year["wind"], "m/s")
    found = climate.penman_monteith(*air, vapour, wind, net, quantity(ELEVATION, "m"))
    return found.m_as("mm/day"), vapour.m_as("kPa")


@pytest.fixture(scope="module")
def series(year):
    pandas = pytest.importorskip("pandas")
    dates = pandas.date_range("2023-01-01", periods=365)
    return {name: pandas.Series(values, index=dates) for name, values in year.items()}


def test_penman_monteith_year_equals_pyet(series, ours):
    pyet = pytest.importorskip("pyet")
    theirs = pyet.pm_fao56(
        (series["warm"] + series["cold"]) / 2, series["wind"], rs=series["solar"],
        tmax=series["warm"], tmin=series["cold"], rhmax=series["moist"] * 100,
        rhmin=series["dry"] * 100, elevation=ELEVATION, lat=np.radians(LATITUDE),
        clip_zero=False,
    )  # fmt: skip
    np.testing.assert_allclose(ours[0], theirs.to_numpy(), atol=1e-3)


def test_hargreaves_year_equals_pyet(series, year):
    pyet = pytest.importorskip("pyet")
    mean = (series["warm"] + series["cold"]) / 2
    # pyet divides by the latent heat at that temperature where FAO-56 takes 1 / 2.45 = 0.408.
    theirs = pyet.hargreaves(
        mean, series["warm"], series["cold"], np.radians(LATITUDE), method=0, clip_zero=False
    )
    found = climate.hargreaves.floats(year["warm"], year["cold"], year["above"])
    latent = 2.501 - 2.361e-3 * mean.to_numpy()
    np.testing.assert_allclose(found / 0.408 / latent, theirs.to_numpy(), atol=1e-3)


def test_penman_monteith_year_equals_refet(year, ours):
    refet = pytest.importorskip("refet")
    theirs = refet.Daily(
        tmin=year["cold"], tmax=year["warm"], rs=year["solar"], uz=year["wind"], zw=2,
        elev=ELEVATION, lat=LATITUDE, doy=year["days"], ea=ours[1], method="asce",
    ).eto()  # fmt: skip
    # Its standard (ASCE 2005) rounds constants differently and takes 273.16 K and 4.901e-9.
    np.testing.assert_allclose(ours[0], theirs, atol=5e-3)
