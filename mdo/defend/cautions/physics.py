"""Numbers that several cautions read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from mdo.defend.cautions.base import present_sets

if TYPE_CHECKING:
    from mdo.optimise.appraisal import Appraisal


def stuck_tube_temperature(appraisal: Appraisal) -> float:
    """Hottest tube with its heater stuck on, over legs and sets [K]."""
    return float(appraisal.values["stuck_on_temperature"][:, present_sets(appraisal)].max())


def stuck_structure_temperature(appraisal: Appraisal) -> float:
    """Hottest structure beside the tubes with a heater stuck on [K]."""
    beside = appraisal.values["stuck_on_structure_temperature"]
    return float(beside[:, present_sets(appraisal)].max())


def outer_stall_stress(appraisal: Appraisal) -> float:
    """Stress of the outer fibre of blocked tubes that are heated all the same [Pa]."""
    return float(appraisal.values["stall_outer_stress"])


def air_numbers(appraisal: Appraisal) -> tuple[float, float]:
    """Largest Rayleigh number, and least Peclet number of blown legs (infinite without any)."""
    values = appraisal.values
    return float(values["rayleigh_number"].max()), float(values["peclet_number"].min())
