"""Every decorated public function refuses bad arguments and does not care about units."""

from __future__ import annotations

import numpy as np
import pytest

from scenariokit import climate, economics, nutrients, quantity, reservoir, substrate, yields
from scenariokit.errors import ArgumentError, RangeError, UnitError
from scenariokit.glossary import parameter
from scenariokit.units import is_plain_number, unit_of

CASES = [
    (yields.per_area, {"mass": "12 kg", "area": "2.5 m^2"}),
    (yields.per_plant, {"mass": "12 kg", "plants": "40 plant"}),
    (yields.per_volume, {"mass": "12 kg", "volume": "8 L"}),
    (yields.field_equivalent, {"yield_per_area": "5 kg/m^2"}),
    (
        yields.light_limited,
        {
            "photosynthetic_radiation": "900 MJ/m^2",
            "intercepted_fraction": "0.7",
            "radiation_use_efficiency": "2.5 g/MJ",
            "harvest_index": "0.8",
            "dry_matter": "0.2",
        },
    ),
    (
        yields.salinity_factor,
        {"ec": "3 dS/m", "threshold": "1.7 dS/m", "slope": "12 percent/(dS/m)"},
    ),
    (substrate.volume_per_area, {"volume_per_plant": "3 L", "plants_per_area": "9 plant/m^2"}),
    (
        substrate.price_in_place,
        {
            "package_price": "22 money",
            "package_volume": "107.6 L",
            "expansion": "2",
            "fill_factor": "0.8",
        },
    ),
    (substrate.medium_use_factor, {"crops_per_filling": "3", "top_up_fraction": "0.15"}),
    (
        substrate.cost_per_yield,
        {
            "price": "0.12 money/L",
            "volume_per_plant": "3 L/plant",
            "plants_per_area": "9 plant/m^2",
            "yield_per_area": "5 kg/m^2",
            "crops_per_filling": "3",
            "top_up_fraction": "0.15",
        },
    ),
    (
        climate.daily_demand,
        {
            "reference_evapotranspiration": "5 mm/day",
            "crop_coefficient": "1.15",
            "factor": "1.2",
        },
    ),
    (
        climate.tank_evaporation,
        {
            "reference_evapotranspiration": "5 mm/day",
            "open_fraction": "0.4",
            "cover_efficiency": "0.85",
        },
    ),
    (reservoir.volume, {"area": "2 m^2", "depth": "10 cm", "displaced": "0.25"}),
    (reservoir.load, {"depth": "10 cm", "temperature": "20 degC"}),
    (reservoir.water_density, {"temperature": "20 degC"}),
    (
        reservoir.autonomy,
        {"usable_depth": "8 cm", "use_per_day": "5.75 mm/day", "displaced": "0.1"},
    ),
    (
        reservoir.starting_depth,
        {
            "season_use": "200 L/m^2",
            "minimum_depth": "5 cm",
            "rain": "30 L/m^2",
            "displaced": "0.2",
        },
    ),
    (reservoir.reserve_volume, {"area": "10 m^2", "peak_use": "6 mm/day", "days": "7 day"}),
    (
        reservoir.hand_fill_interval,
        {
            "level_high": "8 cm",
            "level_low": "3 cm",
            "use_per_day": "5 mm/day",
            "displaced": "0.1",
        },
    ),
    (reservoir.drop_per_day, {"use_per_day": "6 mm/day", "displaced": "0.5"}),
    (reservoir.check_level, {"level": "12 cm", "rim": "15 cm"}),
    (nutrients.stock_dose, {"volume": "200 L", "dilution": "100", "stocks": "2"}),
    (nutrients.stock_strength, {"rate": "0.50551 g/L", "dilution": "100"}),
    (
        nutrients.use_per_yield,
        {"concentration": "105 mg/L", "water_use": "400 L/m^2", "yield_per_area": "5 kg/m^2"},
    ),
    (nutrients.nitrogen_from_nitrate, {"concentration": "50 mg/L"}),
    (nutrients.nitrate_from_nitrogen, {"concentration": "10 mg/L"}),
    (nutrients.dilution_to_limit, {"concentration": "210.1 mg/L", "limit": "10 mg/L"}),
    (economics.capital_recovery, {"interest": "0.08", "years": "10 year"}),
    (
        economics.annualised,
        {
            "price": "200 money",
            "salvage": "20 money",
            "years": "8 year",
            "interest": "0.08",
        },
    ),
    (economics.per_crop, {"annual": "32.92 money/year", "crops_per_year": "2 crop/year"}),
    (
        economics.margin,
        {
            "produce_price": "2.5 money/kg",
            "yield_per_area": "5 kg/m^2",
            "cost_per_area": "8 money/m^2",
            "marketable_share": "0.9",
        },
    ),
    (
        economics.break_even_price,
        {
            "cost_per_area": "12 money/m^2",
            "yield_per_area": "5 kg/m^2",
            "marketable_share": "0.9",
        },
    ),
    (
        economics.break_even_yield,
        {
            "cost_per_area": "12 money/m^2",
            "produce_price": "2.5 money/kg",
            "marketable_share": "0.9",
        },
    ),
]
EACH = [
    pytest.param(function, given, key, id=f"{function.__name__}-{key}")
    for function, given in CASES
    for key in given
]
DIVIDED_BY = [row for row in EACH if row.values[0].expectations[row.values[2]].above_zero]
BY_NAME = [pytest.param(function, given, id=function.__name__) for function, given in CASES]
US_UNITS = {
    "kg": "lb",
    "m^2": "ft^2",
    "L": "US_dry_quart",
    "kg/m^2": "lb/ft^2",
    "MJ/m^2": "J/cm^2",
    "g/MJ": "kg/GJ",
    "dS/m": "uS/cm",
    "percent/(dS/m)": "1/(mS/cm)",
    "L/plant": "gal/plant",
    "plant/m^2": "plant/ft^2",
    "money": "kilomoney",
    "money/L": "money/ft^3",
    "mm/day": "inch/hour",
    "cm": "inch",
    "degC": "degF",
    "L/m^2/day": "gal/ft^2/day",
    "L/m^2": "gal/ft^2",
    "day": "week",
    "g/L": "oz/gal",
    "mg/L": "g/m^3",
    "year": "day",
    "money/year": "money/day",
    "crop/year": "crop/day",
    "money/kg": "money/lb",
    "money/m^2": "money/acre",
    "": "percent",
    "plant": "percent",
}


def numbers(result):
    """Return the magnitudes of a quantity, or of each field of a named tuple."""
    parts = result if isinstance(result, tuple) else (result,)
    return np.array(np.broadcast_arrays(*(part.magnitude for part in parts)), dtype=float)


def test_cases_public_functions_all_listed():
    listed = {function.__name__ for function, _ in CASES}
    rooms = (yields, substrate, climate, reservoir, nutrients, economics)
    decorated = {
        name
        for room in rooms
        for name, value in vars(room).items()
        if hasattr(value, "expectations") and value.result_unit is not None
    }
    assert decorated - listed == {"season_demand"}


@pytest.mark.parametrize(("function", "given", "key"), EACH)
def test_any_function_other_unit_same_result(function, given, key):
    described = parameter(function.expectations[key].name)
    other = quantity(given[key]).to(unit_of(US_UNITS[described.unit]))
    assert other.units != unit_of(described.unit)
    np.testing.assert_allclose(
        numbers(function(**given | {key: other})), numbers(function(**given)), rtol=1e-12
    )


@pytest.mark.parametrize(("function", "given", "key"), EACH)
def test_any_function_wrong_dimension_raises_unit_error(function, given, key):
    with pytest.raises(UnitError, match=key):
        function(**given | {key: "5 ampere"})


@pytest.mark.parametrize(("function", "given", "key"), EACH)
def test_any_function_bare_number_refused_where_unit_is_due(function, given, key):
    described = parameter(function.expectations[key].name)
    bare = quantity(given[key]).m_as(unit_of(described.unit))
    if is_plain_number(described.unit):
        np.testing.assert_allclose(
            numbers(function(**given | {key: bare})), numbers(function(**given))
        )
    else:
        with pytest.raises(UnitError, match="bare number"):
            function(**given | {key: bare})


@pytest.mark.parametrize(("function", "given", "key"), EACH)
def test_any_function_above_range_raises_range_error(function, given, key):
    described = parameter(function.expectations[key].name)
    with pytest.raises(RangeError, match=key):
        function(**given | {key: quantity(described.maximum * 1.01, described.unit)})


@pytest.mark.parametrize(("function", "given", "key"), EACH)
def test_any_function_below_range_raises_range_error(function, given, key):
    described = parameter(function.expectations[key].name)
    below = described.minimum * 0.5 if described.minimum else -0.01
    with pytest.raises(RangeError, match=key):
        function(**given | {key: quantity(below, described.unit)})


@pytest.mark.parametrize(("function", "given", "key"), EACH)
def test_any_function_nan_raises_range_error(function, given, key):
    described = parameter(function.expectations[key].name)
    with pytest.raises(RangeError, match="NaN"):
        function(**given | {key: quantity(float("nan"), described.unit)})


@pytest.mark.parametrize(("function", "given", "key"), DIVIDED_BY)
def test_any_function_zero_where_divided_raises_range_error(function, given, key):
    expectation = function.expectations[key]
    with pytest.raises(RangeError, match=expectation.why):
        function(**given | {key: quantity(0.0, parameter(expectation.name).unit)})


@pytest.mark.parametrize(("function", "given"), BY_NAME)
def test_any_function_scalar_gives_plain_float(function, given):
    result = function(**given)
    parts = result if isinstance(result, tuple) else (result,)
    assert all(type(part.magnitude) is float for part in parts)


@pytest.mark.parametrize(("function", "given", "key"), EACH)
def test_any_function_array_equals_its_scalars(function, given, key):
    one = quantity(given[key])
    two = quantity(one.magnitude * 0.98, str(one.units))
    many = quantity(np.array([one.magnitude, two.magnitude]), str(one.units))
    together = numbers(function(**given | {key: many}))
    apart = np.stack(
        [numbers(function(**given | {key: one})), numbers(function(**given | {key: two}))], axis=-1
    )
    np.testing.assert_allclose(np.broadcast_to(together, apart.shape), apart, rtol=1e-12)


@pytest.mark.parametrize(("function", "given"), BY_NAME)
def test_any_function_floats_body_equals_function(function, given):
    values = {
        key: quantity(value).m_as(unit_of(parameter(function.expectations[key].name).unit))
        for key, value in given.items()
    }
    plain = function.floats(**values)
    expected = numbers(function(**given))
    np.testing.assert_allclose(
        np.array(plain if isinstance(plain, tuple) else [plain]), expected, rtol=1e-12
    )


@pytest.mark.parametrize(("function", "given"), BY_NAME)
def test_any_function_several_faults_all_named(function, given):
    faulty = dict.fromkeys(given, "5 ampere")
    with pytest.raises(ArgumentError) as caught:
        function(**faulty)
    assert [problem.field for problem in caught.value.problems] == list(given)


@pytest.mark.parametrize(
    ("function", "given"), [row for row in CASES if len(row[1]) > 1], ids=lambda item: None
)
def test_any_function_shapes_that_do_not_fit_raises(function, given):
    first, second = list(given)[:2]
    stretched = {
        key: quantity(
            np.full(size, quantity(given[key]).magnitude), str(quantity(given[key]).units)
        )
        for key, size in ((first, 2), (second, 3))
    }
    with pytest.raises(RangeError, match="broadcast"):
        function(**given | stretched)
