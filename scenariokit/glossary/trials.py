"""Trials: planning them and reading them."""

from __future__ import annotations

from scenariokit.glossary.sources import DEFINITION, TRADE
from scenariokit.parameters import Parameter

ROWS: tuple[Parameter, ...] = (
    # -- planning ----------------------------------------------------------------------------
    Parameter("coefficient_of_variation", "CV", "Usual difference between like plots", "", 0.001, 1,
              (0.02, 0.5, 0.01), 0.12,
              "Standard deviation of plots treated alike, as a share of the mean yield. Good "
              "research plots of potato show 0.05 to 0.11, small plots up to 0.35.",
              "error mean squares of potato trials in Tai 1971, Talbot and Wheelwright 1989 and "
              "others; the default lies between them", "trials"),
    Parameter("relative_difference", "d", "Difference worth finding", "", 0.001, 2,
              (0.05, 1, 0.01), 0.2,
              "Difference between two treatments as a share of the mean yield.", TRADE, "trials"),
    Parameter("significance_level", "α", "Risk of a false alarm", "", 1e-6, 0.5,
              (0.01, 0.2, 0.01), 0.05,
              "Chance of calling treatments different that are alike.", TRADE, "trials"),
    Parameter("power", "1-β", "Chance of finding the difference", "", 0.01, 0.9999,
              (0.5, 0.99, 0.01), 0.8,
              "Chance that a difference of the stated size is found if it is there.", TRADE,
              "trials"),
    Parameter("confidence", "1-α", "Confidence of an interval", "", 0.5, 0.999999,
              (0.8, 0.99, 0.01), 0.95,
              "Share of such intervals that hold the true value.", TRADE, "trials"),
    Parameter("treatments", "t", "Treatments", "", 2, 1000, (2, 20, 1), 4,
              "How many methods, varieties or combinations of them are compared.", TRADE,
              "trials"),
    Parameter("replicates", "r", "Replicates", "", 2, 10000, (2, 20, 1), 4,
              "Plots of each treatment.", TRADE, "trials"),
    Parameter("interval_half_width", "w", "Half width of an interval", "", 0.001, 2,
              (0.05, 0.5, 0.01), 0.2,
              "Half the width of the interval of a difference, as a share of the mean yield.",
              TRADE, "trials"),
    Parameter("effect_size", "f", "Spread of the treatments", "", 0.001, 10, (0.05, 2, 0.05), 0.4,
              "Standard deviation of the treatments' true means (divided by their number) over "
              "that of plots treated alike.",
              "Cohen 1988, Statistical Power Analysis, chapter 8; from memory", "trials"),
    Parameter("tank_side", "s", "Side of a tank", "cm", 1, 100000, (20, 600, 5), 120,
              "Inner length or width of a tank's water surface.", DEFINITION, "trials", "inch"),
    Parameter("walkway", "ww", "Width of a walkway", "cm", 0, 100000, (0, 200, 5), 60,
              "Clear way between tanks; 60 cm lets a person kneel.", TRADE, "trials", "inch"),
    # -- others append below -----------------------------------------------------------------
    # -- unreplicated trials -----------------------------------------------------------------
    Parameter("plots_each", "n", "Plots of each treatment", "", 1, 10000, (1, 10, 1), 1,
              "How many plots of each treatment were weighed; 1 is a trial without replicates.",
              DEFINITION, "trials"),
    Parameter("yield_difference", "dY", "Difference of two yields", "kg/m^2", -60, 60,
              (-6, 6, 0.1), 1, "Yield of one treatment less that of another.", DEFINITION,
              "trials", "lb/ft^2"),
    # -- a planned trial's tanks -------------------------------------------------------------
    Parameter("tank_count", "nt", "Tanks", "", 1, 1000, (1, 60, 1), 24,
              "How many tanks there are for the trial, all of one size.", DEFINITION, "trials"),
    Parameter("tank_sections", "ns", "Sections in each tank", "", 1, 100, (1, 12, 1), 1,
              "Parts of a tank that each are one plot; 1 is a tank that is one plot.", DEFINITION,
              "trials"),
)  # fmt: skip
