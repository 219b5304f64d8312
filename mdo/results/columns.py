"""Dictionary of the columns of all tables: unit and meaning, kept beside the tables of a result.

The tables have one line of heads and then plain cells, so that they sort, filter and paste; what a
column means and in which unit it counts is written here instead of into a second line of heads.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from mdo.quantities import QUANTITIES

BY_LINE = "see column unit"  # the unit of a number stands in its own line
MASS, PURE, SHARE = "kg", "1", "1"

# Column (or table.column where the name is used twice) -> unit, meaning. Names of quantities and
# columns of words need no entry.
COLUMNS: dict[str, tuple[str, str]] = {
    "accuracy": (BY_LINE, "Half width of the range that may be left; relative where so marked"),
    "after": (MASS, "Mass after the step"),
    "agreeing_starts": (PURE, "Starts that ended at this optimum"),
    "angle_number": (PURE, "Number of the angle in its leg, from 0"),
    "answer": (PURE, "Number of the answer: changes that belong together share it"),
    "at_least": ("K", "Least value that the cases allow; empty where open"),
    "at_most": ("K", "Largest value that the cases allow; empty where open"),
    "band_high": (BY_LINE, "Largest value that may be delivered; empty where open"),
    "band_low": (BY_LINE, "Least value that may be delivered; empty where open"),
    "basic": (MASS, "Mass without growth"),
    "before": (MASS, "Mass before the step"),
    "boundary": (BY_LINE, "Where the first feasible design was found"),
    "card": ("K", "Value of the alloy card"),
    "change": (BY_LINE, "Change of the value"),
    "closest_at": (BY_LINE, "Where both masses come closest"),
    "closest_difference": (MASS, "Difference of the masses there"),
    "closest_mass": (MASS, "Mass of the torque-tube actuator there"),
    "closest_rival": (MASS, "Mass of the conventional hinge there"),
    "confirmed_high": (MASS, "Optimum solved at the high end of the input"),
    "confirmed_low": (MASS, "Optimum solved at the low end of the input"),
    "cooling_finish_other_set": ("K", "Martensite finish of the set that is cooled"),
    "cost": (PURE, "Change in steps of its requirement"),
    "cost_high": ("kg per SI unit", "Slope of the least mass towards larger values"),
    "cost_low": ("kg per SI unit", "Slope of the least mass towards smaller values"),
    "counted": (SHARE, "Share of the samples in which it fails"),
    "deviation": (PURE, "Standard deviation of the normalised row"),
    "difference_now": (MASS, "Mass of the actuator less that of the conventional hinge, now"),
    "factor": (PURE, "Mass after the step over the mass before"),
    "falling_breaks_at": (BY_LINE, "Value at which the next requirement breaks as it falls"),
    "falling_share": (SHARE, "Distance to there over the distance to the end of the range"),
    "growth": (MASS, "Growth allowance"),
    "high": (BY_LINE, "Upper end of the range"),
    "least_at": (BY_LINE, "Where the violation is least"),
    "least_violation": (PURE, "Least violation of a normalised row"),
    "limit": (BY_LINE, "Limit"),
    "load_high": ("N*m", "Upper end of air load and gravity against the driver"),
    "load_low": ("N*m", "Lower end of air load and gravity against the driver"),
    "loss": (MASS, "Mass that the step adds"),
    "low": (BY_LINE, "Lower end of the range"),
    "margin": (BY_LINE, "Margin, positive where the requirement holds"),
    "margin_down": (PURE, "Change of the least torque margin as the number falls"),
    "margin_up": (PURE, "Change of the least torque margin as the number rises"),
    "mass_elasticity": (PURE, "Relative change of the mass as drawn over that of the number"),
    "mass_high": (MASS, "Change of the mass of the design as drawn at the high end"),
    "mass_low": (MASS, "Change of the mass of the design as drawn at the low end"),
    "mass_share": (SHARE, "Share of the doubt in the mass"),
    "mass_worth": (MASS, "What the accuracy takes off the 95 % point of the mass"),
    "mean": (PURE, "Mean of the normalised row"),
    "multiplier": ("kg per unit of row", "Multiplier of the requirement at the optimum"),
    "now": (BY_LINE, "Value of the study"),
    "number": (PURE, "Number in an order"),
    "one_wing": (MASS, "Mass of one wing; empty for lines shared by the aircraft"),
    "optima": (PURE, "Optima solved"),
    "optimum_elasticity": (PURE, "Relative change of the least mass over that of the number"),
    "optimum_mass": (MASS, "Change of the least mass"),
    "optimum_mass_high": (MASS, "Change of the least mass at the high end, first order"),
    "optimum_mass_low": (MASS, "Change of the least mass at the low end, first order"),
    "outer_diameter": ("m", "Outer diameter of the stock tube"),
    "over_best": (SHARE, "Mass over that of the best combination, less 1"),
    "place": (PURE, "Place in the order of masses"),
    "present": (BY_LINE, "Value of the study"),
    "price": (MASS, "Mass that the step of rounding adds"),
    "probability": (SHARE, "Probability that it fails, first order"),
    "range_high": (BY_LINE, "Upper end of the range over which the cost holds"),
    "range_high_cost": ("kg per SI unit", "Cost beyond the upper end"),
    "range_low": (BY_LINE, "Lower end of the range over which the cost holds"),
    "range_low_cost": ("kg per SI unit", "Cost beyond the lower end"),
    "rank": (PURE, "Place, 1 first"),
    "ratio": (PURE, "Value over its limit; of a comparison: actuator over conventional hinge"),
    "ratio_high": (PURE, "95 % point of the ratio"),
    "ratio_low": (PURE, "5 % point of the ratio"),
    "relaxed_mass": (MASS, "Mass with counts and sleeve free"),
    "relaxing": (MASS, "Mass saved by one step of the easier way, first order"),
    "reliability": (PURE, "Reliability index"),
    "required_moment_upper_band": ("N*m", "Required moment, load model at its upper band"),
    "reserve_worth": (MASS, "What the accuracy takes off the reserve of mass"),
    "rising_breaks_at": (BY_LINE, "Value at which the next requirement breaks as it rises"),
    "rising_share": (SHARE, "Distance to there over the distance to the end of the range"),
    "row": (PURE, "Normalised row of the model, 0 or more where it holds"),
    "row_down": (PURE, "Change of the worst row as the number falls"),
    "row_high": (PURE, "Row at the high end of the input"),
    "row_low": (PURE, "Row at the low end of the input"),
    "row_up": (PURE, "Change of the worst row as the number rises"),
    "same_things": (PURE, "Combinations that are the same thing"),
    "share": (SHARE, "Share"),
    "short_of": (BY_LINE, "Last value at which no design was found"),
    "slope": ("kg per SI unit", "Slope of the difference of the masses"),
    "specimens": (PURE, "Suggested number of specimens"),
    "start": (PURE, "Number of the start, from 1"),
    "step": (BY_LINE, "One step of the requirement"),
    "stopped_at": (BY_LINE, "Where the search stopped"),
    "tightening": (MASS, "Mass added by one step of the harder way, first order; inf: no design"),
    "time": ("s", "Time of the leg"),
    "times.margin": ("s", "Time limit less time"),
    "torque_margin_high": (PURE, "Least torque margin at the high end of the input"),
    "torque_margin_low": (PURE, "Least torque margin at the low end of the input"),
    "total": (MASS, "Mass with growth"),
    "value": (BY_LINE, "Value"),
    "verdict_share": (SHARE, "Share of the doubt in the verdict"),
    "violation": (PURE, "Largest violation of a normalised row"),
    "violation_short": (PURE, "Violation just short of the boundary"),
    "rounding_stock.wall": ("m", "Wall of the stock tube"),
    "morris_effects.effect": ("SI", "Mean size of what the output changes by over the range"),
    "morris_effects.effect_interval": ("SI", "Half width of its interval"),
    "morris_effects.range_part": (SHARE, "Part of every range, about the value of the study"),
    "morris_effects.spread": ("SI", "Standard deviation of what the output changes by"),
    "morris_effects.trajectories": (PURE, "Trajectories with a value at every point"),
    "scaling_changes.size": (PURE, "Length over that of the given vehicle"),
    "scaling_exponents.exponent": (PURE, "Exponent of the size"),
    "scaling_exponents.high": (PURE, "Upper end of its 95 % interval"),
    "scaling_exponents.low": (PURE, "Lower end of its 95 % interval"),
    "scaling_exponents.sizes": (PURE, "Sizes that it is fitted to"),
    "scaling_exponents.theory": (PURE, "Exponent of theory; empty where there is none"),
    "scaling_points.actuator_work_max": ("J", "Largest work of a leg, one wing"),
    "scaling_points.kkt_residual": (PURE, "Slope left at the optimum over that of the mass"),
    "scaling_points.leg_work_density_max": ("J/m**3", "Largest work per volume of alloy"),
    "scaling_points.required_moment_max": ("N*m", "Largest moment required, one wing"),
    "scaling_points.size": (PURE, "Length over that of the given vehicle"),
    "scaling_points.tube_count": (PURE, "Tubes of both sets, one wing"),
    "sensitivity_doubts.value": (PURE, "Value of the normalised row"),
    "sensitivity_inputs.high": (BY_LINE, "Upper end of the range"),
    "sensitivity_inputs.low": (BY_LINE, "Lower end of the range"),
    "sensitivity_inputs.mass_at_high": (MASS, "Least mass at the upper end alone; empty: none"),
    "sensitivity_inputs.mass_at_low": (MASS, "Least mass at the lower end alone; empty: none"),
    "sensitivity_study.mass": (MASS, "Change of the mass as drawn"),
    "sobol_indices.first": (SHARE, "First-order index: share of the variance by itself"),
    "sobol_indices.first_interval": (SHARE, "Half width of its interval"),
    "sobol_indices.range_part": (SHARE, "Part of every range, about the value of the study"),
    "sobol_indices.samples": (PURE, "Base samples with a value at every point"),
    "sobol_indices.total": (SHARE, "Total index: share with all interactions"),
    "sobol_indices.total_interval": (SHARE, "Half width of its interval"),
}


def columns_table(tables: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Table, column, unit and meaning of every column of some tables, in their order."""
    rows = [
        (table, str(column), *column_facts(table, str(column), frame))
        for table, frame in tables.items()
        for column in frame.columns
    ]
    return pd.DataFrame(rows, columns=["table", "column", "unit", "meaning"])


def column_facts(table: str, column: str, frame: pd.DataFrame) -> tuple[str, str]:
    """Unit and meaning of a column: empty for words, ``?`` for a number that nobody explains."""
    kind = frame[column].dtype
    is_number = pd.api.types.is_numeric_dtype(kind) and not pd.api.types.is_bool_dtype(kind)
    quantity = QUANTITIES.get(column.partition(".")[0])
    unit, meaning = ("?", "") if quantity is None else (quantity.unit, quantity.meaning)
    for name in (column, f"{table}.{column}"):
        unit, meaning = COLUMNS.get(name, (unit, meaning))
    return (unit, meaning) if is_number else ("", "")
