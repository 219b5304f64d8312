"""Table of what folding gives, so that mass stands against benefit, and what it says in words."""

from __future__ import annotations

import math

import pandas as pd

from mdo.defend.tables.frame import of_lines
from mdo.model.benefit import BenefitPoint, benefit_points
from mdo.optimise.appraisal import Appraisal
from mdo.study.number_text import figure

CENT = 0.01  # of directional stability, for which a mass is quoted


def benefit_table(appraisal: Appraisal) -> pd.DataFrame:
    """What folding gives at each point of flight; see :class:`BenefitPoint`."""
    return of_lines(BenefitPoint, benefit_points(appraisal.problem.assembled.parameters))


def benefit_sentences(table: pd.DataFrame, mass: float) -> list[str]:
    """Say what the ends of the range flown give, and what the mass buys with it.

    Parameters
    ----------
    table : of :func:`benefit_table`
    mass : of the system, aircraft [kg]
    """
    said = [
        f"On deck at {_deg(line)} deg: span {figure(line.width, 3)} m folded."
        for line in table[table["mach"].isna()].itertuples()
    ]
    own = table["fold_fraction"].iloc[0] if len(table) else math.nan
    flown = table[table["mach"].notna() & (table["fold_fraction"] == own)]
    for mach, part in flown.groupby("mach"):
        ends = part[part["fold_angle"].isin([part["fold_angle"].min(), part["fold_angle"].max()])]
        said += [_end(float(mach), line, mass) for line in ends.itertuples() if line.fold_angle]
    return said


def _end(mach: float, line: object, mass: float) -> str:
    stable = _band(line, "yaw_stability", 1.0, 4)
    drag, shift = _band(line, "drag_change", 100.0, 1), _band(line, "centre_shift", 100.0, 2)
    return (
        f"Mach {mach:.2f}, {_deg(line)} deg, against the flat wing: directional stability {stable} "
        f"per rad, drag due to lift at the same lift {drag} %, aerodynamic centre {shift} % of the "
        f"mean chord (aft positive). {_price(line, mass)}"
    )


def _price(line: object, mass: float) -> str:
    """What the mass of the system is per directional stability, where there is any to speak of."""
    value, low, high = (
        float(getattr(line, name))
        for name in ("yaw_stability", "yaw_stability_low", "yaw_stability_high")
    )
    if low <= 0.0 <= high:
        return (
            f"The {figure(mass, 3)} kg buy no directional stability that stands out of its error: "
            "the panels lie beside the centre of gravity, not behind it."
        )
    if value < 0.0:
        return "It takes directional stability away."
    volume = figure(float(line.fin_volume), 2)  # type: ignore[attr-defined]
    return (
        f"{figure(mass * CENT / value, 3)} kg of fold system per {CENT:g} of it; a fin of area "
        f"times arm {volume} m**3 gives as much."
    )


def _deg(line: object) -> str:
    return f"{math.degrees(float(line.fold_angle)):+.0f}"  # type: ignore[attr-defined]


def _band(line: object, name: str, scale: float, digits: int) -> str:
    value, low, high = (
        scale * float(getattr(line, column)) for column in (name, f"{name}_low", f"{name}_high")
    )
    return f"{value:+z.{digits}f} ({low:+z.{digits}f} to {high:+z.{digits}f})"
