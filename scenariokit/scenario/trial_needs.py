"""What a plot of a scenario's method needs, for the budget of a planned trial."""

from __future__ import annotations

from scenariokit import units
from scenariokit.errors import InfeasibleError
from scenariokit.language import tr
from scenariokit.scenario.evaluate import Evaluation
from scenariokit.trials.planning.needs import PlotNeeds


def plot_needs(found: Evaluation) -> PlotNeeds:
    """Return plants, growing medium and cost per tank area of an evaluated scenario.

    Parameters
    ----------
    found : Evaluation
        One scenario, no ensemble.

    Returns
    -------
    PlotNeeds
        A method without growing medium needs none: 0 L for each plant. The cost
        is that of one crop, with equipment over its life.

    Raises
    ------
    InfeasibleError
        If the scenario is an ensemble.

    Examples
    --------
    >>> from scenariokit.scenario import evaluate, scenario_for
    >>> from scenariokit.scenario.trial_needs import plot_needs
    >>> f"{plot_needs(evaluate(scenario_for('wedge_pots'))).plants_per_area:g~P}"
    '30 plant/m²'
    """
    method = found.scenario.method
    values = {
        "plants_per_area": method.plants_per_area.m_as(units.unit_of("plant/m^2")),
        "volume_per_plant": 0.0
        if method.medium is None
        else method.medium.volume_per_plant.m_as(units.unit_of("L/plant")),
        "cost_per_area": found["cost_per_area"].m_as(units.unit_of("money/m^2")),
    }
    if any(getattr(value, "ndim", 0) for value in values.values()):
        raise InfeasibleError(tr("a trial is planned for one scenario, not for an ensemble"))
    return PlotNeeds(
        units.quantity(float(values["plants_per_area"]), "plant/m^2"),
        units.quantity(float(values["volume_per_plant"]), "L/plant"),
        units.quantity(float(values["cost_per_area"]), "money/m^2"),
    )
