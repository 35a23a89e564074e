"""A trial's means as yields of methods, in the form that scenarios take."""

from __future__ import annotations

import dataclasses

import pytest

from scenariokit import catalog
from scenariokit.errors import RangeError
from scenariokit.scenario.build import harvest_from_plots
from scenariokit.trials.analysis import analyse, completely_randomised, treatment_means
from scenariokit.trials.demo import demo_files, demo_records
from scenariokit.trials.over_studies import summarise_studies
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.pooling import pool
from scenariokit.trials.summary import summarise
from scenariokit.trials.to_yields import method_yields

NAN = float("nan")


def plots_of(values, **factors):
    return PlotTable(values, {name: tuple(levels) for name, levels in factors.items()})


@pytest.fixture(scope="module")
def found():
    return summarise(demo_records().plots)


def test_method_yields_are_the_means_of_the_analysis(found):
    yields = method_yields(found)
    for one in found.means:
        made = yields[one.label]
        assert (made.mean, made.low, made.high) == (one.mean, one.low, one.high)
        assert (made.plots, made.unharvested) == (one.plots, one.unharvested)
        assert made.crop == "potato"


def test_method_yields_do_not_depend_on_what_is_compared(found):
    for compare in ("variety", "method:variety"):
        other = method_yields(summarise(demo_records().plots, compare=compare))
        assert other["medium_bag"].mean.m == pytest.approx(
            method_yields(found)["medium_bag"].mean.m
        )


def test_method_yields_of_an_analysis_are_the_same_as_of_its_summary(found):
    made = method_yields(found.analysis)["wedge_pots"]
    assert made.low == method_yields(found)["wedge_pots"].low


def test_method_yields_can_become_the_harvest_of_a_scenario(found):
    harvest = harvest_from_plots(method_yields(found)["medium_bag"])
    assert harvest.interval
    assert harvest.low < harvest.typical < harvest.high


def test_method_yields_labels_become_ids(found):
    names = {key: row["label"] for key, row in catalog.methods().items()}
    plots = demo_records().plots
    methods = tuple(names[level] for level in plots.column("method"))
    labelled = summarise(dataclasses.replace(plots, factors={**plots.factors, "method": methods}))
    assert set(method_yields(labelled)) == {names[one.label] for one in found.means}
    assert set(method_yields(labelled, methods=catalog.methods())) == {
        one.label for one in found.means
    }


def test_method_yields_unknown_method_keeps_its_name():
    made = method_yields(summarise(plots_of([4.0, 4.4, 5.0], method="AAB")),
                         methods=catalog.methods())  # fmt: skip
    assert set(made) == {"A", "B"}


def test_method_yields_unreplicated_have_no_interval():
    made = method_yields(summarise(demo_records("single").plots))
    assert all(one.low is None and one.high is None for one in made.values())
    assert harvest_from_plots(made["medium_bag"]).interval is False


def test_method_yields_low_end_is_not_below_zero():
    plots = plots_of([0.1, 0.9, 4.0, 7.0], method="AABB")
    mean = treatment_means(analyse(plots, completely_randomised("method")), "method")[0]
    assert mean.low.m < 0
    assert method_yields(summarise(plots))["A"].low.m == 0


def test_method_yields_one_method_alone_has_its_own_interval():
    one = method_yields(
        summarise(
            plots_of([4.1, 4.9, 5.3], method="AAA"),
        )
    )["A"]
    assert (one.low.m, one.high.m) == pytest.approx((3.24883, 6.28450), abs=1e-4)
    single = method_yields(summarise(plots_of([4.1], method="A")))["A"]
    assert single.low is None


def test_method_yields_method_alone_with_varieties_has_no_interval_of_its_own():
    made = method_yields(summarise(plots_of([4.1, 4.9, 5.3, 6.0], method="AAAA", variety="xxyy")))
    assert made["A"].low is None


def test_method_yields_plots_that_do_not_vary_have_no_interval():
    plots = plots_of([4.0, 4.0, 6.0, 6.0], method="AABB")
    assert method_yields(summarise(plots))["A"].low is None
    assert method_yields(analyse(plots, completely_randomised("method")))["A"].low is None


def test_method_yields_method_not_harvested_is_left_out():
    made = method_yields(summarise(plots_of([4.0, 4.4, 5.0, 5.5, NAN], method="AABBC")))
    assert set(made) == {"A", "B"}


def test_method_yields_over_studies_are_those_of_the_model():
    found = summarise_studies(pool(demo_files()).plots())
    made = method_yields(found)
    for one in found.model.means("method"):
        assert made[one.levels["method"]].mean.m == pytest.approx(one.mean.m)
        assert made[one.levels["method"]].low.m == pytest.approx(max(one.low.m, 0))


def test_method_yields_over_studies_without_a_model_of_methods_are_plain():
    plots = pool(demo_files()).plots()
    assert method_yields(summarise_studies(plots, compare="variety"))["medium_bag"].low is None
    bare = PlotTable([4.0, 5.0], {"method": ("A", "B"), "study": ("1", "2")})
    assert method_yields(summarise_studies(bare))["A"].mean.m == 4.0


def test_method_yields_without_methods_is_refused():
    found = summarise(plots_of([4.0, 4.4, 5.0, 5.5], variety="xxyy"), compare="variety")
    with pytest.raises(RangeError, match=r"method.*not recorded"):
        method_yields(found)
