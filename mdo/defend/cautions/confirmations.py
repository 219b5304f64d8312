"""Caution rules that only the user can settle; a study has no field for the answer yet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from mdo.defend.cautions.base import (
    DESTROYED,
    NOTE,
    STOP,
    Finding,
    celsius,
    listed,
    on_deck,
    reached,
)

if TYPE_CHECKING:
    from mdo.optimise.appraisal import Appraisal

SAME_ANGLE = 1e-3  # rad; ends of the travel this close to a locked angle count as locked


def stuck_structure_temperature(appraisal: Appraisal) -> float:
    """Hottest structure beside the tubes with a heater stuck on [K]."""
    present = np.asarray(appraisal.problem.assembled.parameters["choices"].set_present) > 0.5
    return float(appraisal.values["stuck_on_structure_temperature"][:, present].max())


def stuck_tube_temperature(appraisal: Appraisal) -> float:
    """Hottest tube with its heater stuck on, over legs and sets [K]."""
    present = np.asarray(appraisal.problem.assembled.parameters["choices"].set_present) > 0.5
    return float(appraisal.values["stuck_on_temperature"][:, present].max())


def thermal_cut_off(appraisal: Appraisal) -> Finding:
    """W05: a heater stuck on takes the tube or the structure beyond a limit."""
    given = appraisal.problem.assembled.parameters
    tube, beside = stuck_tube_temperature(appraisal), stuck_structure_temperature(appraisal)
    limits = {
        "alloy": (tube, float(given["alloy"].temperature_max)),
        "heater": (tube, float(appraisal.values["sheath_temperature_limit"])),
        "structure": (beside, float(given["vehicle"].adjacent_temperature_limit)),
    }
    over = [
        f"{name} limit {celsius(limit)}" for name, (value, limit) in limits.items() if value > limit
    ]
    ends = (
        f"A heater stuck on takes its tube to {reached(tube, limits['alloy'][1], DESTROYED)}, the "
        f"structure beside it to {reached(beside, limits['structure'][1], 'destroyed')}"
    )
    if not over:
        return Finding(NOTE, f"{ends}: below every limit", "Keep a cut-off as good practice")
    return Finding(
        STOP,
        f"{ends}: over the {', '.join(over)}; to be confirmed: an independent thermal cut-off",
        "Confirm a cut-off with its own sensor and its own switch, apart from the controller",
    )


def ground_fold(appraisal: Appraisal) -> Finding:
    """W07: people near the wing while it folds."""
    legs = appraisal.problem.assembled.legs
    moves = [legs[n].case for n in on_deck(appraisal) if legs[n].kind == "fold"]
    what = (
        f"in {listed(moves)}" if moves else "in maintenance (no case of this study folds on deck)"
    )
    return Finding(
        STOP,
        f"To be confirmed: safety of people while the wing folds on the ground {what}: pinch, "
        "crush and guillotine zones",
        "Confirm lock-out pin, streamers, dead-man command, audible and visual warning and a "
        "ground-clearance interlock",
    )


def positive_lock(appraisal: Appraisal) -> Finding:
    """W08: a lock at both ends, and no hold that relies on power."""
    assembled = appraisal.problem.assembled
    powered = [leg.case for leg in assembled.legs if leg.kind == "hold"]
    moving = [leg.state for leg in assembled.legs if leg.kind == "fold"]
    locked = [leg.state.fold_from for leg in assembled.statics if leg.kind != "soak"]
    ends = sorted({state.fold_from for state in moving} | {state.fold_to for state in moving})
    free = [
        f"{np.degrees(end):.0f} deg"
        for end in ends[:1] + ends[1:][-1:]
        if not any(abs(end - angle) < SAME_ANGLE for angle in locked)
    ]
    facts = []
    if powered:
        facts.append(f"{listed(powered)} is held by heat alone, so power loss moves the wing")
    if free:
        facts.append(f"no case holds the lock at the end of travel {' and '.join(free)}")
    return Finding(
        STOP,
        "To be confirmed: a positive lock at both ends of the travel"
        + (f" ({'; '.join(facts)})" if facts else ""),
        "Confirm a lock with its own indication at each end; add a hold case with reacted_by = "
        '"lock" for each',
    )


def single_failure(appraisal: Appraisal) -> Finding:
    """W09: no single failure folds or unfolds the wing in flight."""
    airborne = [
        leg.case
        for leg in appraisal.problem.assembled.legs
        if leg.kind == "fold" and leg.state.location == "air"
    ]
    what = f"it is meant to move in {listed(airborne)}" if airborne else "it never moves in flight"
    return Finding(
        STOP,
        f"To be confirmed: no single failure folds or unfolds the wing in flight ({what})",
        "Confirm by failure analysis, with power isolated in flight apart from the controller",
    )


def asymmetric_fold(appraisal: Appraisal) -> Finding:
    """W10: one wing folded, the other not."""
    jams = [
        f"{leg.case} at {np.degrees(leg.state.fold_from):.0f} deg"
        for leg in appraisal.problem.assembled.statics
        if leg.kind == "jam"
    ]
    what = f"jam on one side in {listed(jams)}" if jams else "no case of this study jams one side"
    return Finding(
        STOP,
        f"To be confirmed: roll authority with one wing folded further than the other ({what}); "
        "the tool has no flight mechanics",
        "Confirm the largest difference that the roll control can hold, and a monitor that stops "
        "there",
    )


def shared_cut_off(appraisal: Appraisal) -> Finding:  # noqa: ARG001 - every rule has one signature
    """W18: the cut-off does not share what it guards against."""
    return Finding(
        STOP,
        "To be confirmed: the over-temperature cut-off shares neither sensor nor solid-state "
        "switch with the control of the heater",
        "Confirm separate sensor, switch and supply of the cut-off",
    )


def concept_only(appraisal: Appraisal) -> Finding:  # noqa: ARG001 - every rule has one signature
    """W24: on every report."""
    return Finding(
        NOTE,
        "Concept estimate, not certification evidence",
        "Defer to airworthiness rules, local codes and licensed practice",
    )
