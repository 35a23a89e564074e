"""Nutrients."""

from __future__ import annotations

from scenariokit.glossary.sources import DEFINITION, TRADE
from scenariokit.parameters import Parameter

ROWS: tuple[Parameter, ...] = (
    # -- nutrients ---------------------------------------------------------------------------
    Parameter("electrical_conductivity", "EC", "EC of the solution", "dS/m", 0, 30,
              (0.2, 6, 0.05), 1.6,
              "Electrical conductivity at 25 °C. Usual for these methods: 1.5 to 2 dS/m.",
              TRADE, "nutrients"),
    Parameter("salinity_threshold", "a", "EC where yield begins to fall", "dS/m", 0, 30,
              (0.5, 8, 0.1), 1.7,
              "Highest salinity without loss of yield, on the saturated-paste scale of field soil.",
              "FAO Irrigation and Drainage Paper 61, annex 1", "nutrients"),
    Parameter("salinity_slope", "b", "Yield lost per dS/m", "percent/(dS/m)", 0, 200,
              (1, 40, 0.1), 12,
              "Percent of yield lost for each dS/m above the threshold.",
              "FAO Irrigation and Drainage Paper 61, annex 1", "nutrients"),
    Parameter("concentration", "C", "Concentration", "mg/L", 0, 1e6, (0, 400, 1), 100,
              "Milligrams of the element or ion in each litre of solution.", DEFINITION,
              "nutrients"),
    Parameter("element_mass", "me", "Mass of an element, oxide or ion", "g", 0, 1e12,
              (0, 1000, 1), 100, "Mass of the species named by the other arguments.", DEFINITION,
              "nutrients", "oz"),
    Parameter("salt_rate", "r", "Fertiliser per litre of solution", "g/L", 0, 3000, (0, 5, 0.01), 1,
              "Grams of a salt or labelled fertiliser dissolved in each litre.", DEFINITION,
              "nutrients"),
    Parameter("label_share", "g", "Percent on a label", "percent", 0, 100, (0, 100, 0.1), 15,
              "Mass percent as printed on the bag.", DEFINITION, "nutrients"),
    Parameter("dilution", "F", "Dilution of a stock", "", 1, 10000, (20, 400, 1), 100,
              "Total parts for one part of stock: 100 means 1 L of stock in 100 L in all.",
              DEFINITION, "nutrients"),
    Parameter("solution_volume", "Vs", "Volume of solution", "L", 0, 1e9, (1, 2000, 1), 200,
              "Volume of ready nutrient solution.", DEFINITION, "nutrients", "gal"),
    Parameter("nutrient_removal", "rm", "Nutrient in the produce", "g/kg", 0, 1000, (0, 10, 0.1), 3,
              "Mass of the element leaving with each kilogram of fresh produce.",
              "potato: food composition and offtake tables", "nutrients"),
    Parameter("stocks", "ns", "Number of stocks", "", 1, 10, (1, 4, 1), 2,
              "Stock solutions that are dosed in equal parts.", TRADE, "nutrients"),
    Parameter("top_up_strength", "st", "Strength of the top-up", "", 0, 5, (0, 1.5, 0.05), 1,
              "EC of what is topped up, relative to the first filling; 0 is plain water.", TRADE,
              "nutrients"),
)  # fmt: skip
