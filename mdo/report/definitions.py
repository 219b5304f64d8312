"""Definitions of the quantities that a report prints, shown where it prints them.

Texts with a name in braces take the value of the study for it.
"""

from __future__ import annotations

WING_AND_AIRCRAFT = (
    "Moments, tubes, gears and envelope are those of one wing (the right one, the left is its "
    "mirror). Power, energy, battery, controller and system mass are those of the aircraft, both "
    "wings moving together. System mass = 2 x lines of a wing + shared lines, growth included."
)
VERDICT = (
    "Infeasible: a requirement does not hold. Feasible with open items: all hold, but alloy data "
    "are judged, the life is declared, or a caution is not confirmed. Feasible: none of these."
)
TORQUE = (
    "Required moment R: resisting parts of air load, gravity, inertia and damping at limit load, "
    "plus {friction_factor:g} (friction, seal, skin), less assisting parts; friction never "
    "assists. Available moment A: gear ratio x efficiency x sum of the hot tubes' torque, less "
    "cold set and spring. Torque margin: A/R - 1, least over legs and angles. The uncertainty of "
    "the load model is not in R; it is the dotted line."
)
OVERRUN = (
    "Where R is negative the load runs over: brake or cold set must hold {overrun_factor:g} |R|."
)
TIMES = (
    "Fold time: heater on until the hot temperature, cold start, lowest line voltage, heater at "
    "its lower tolerance, dead time included. Return time: heat off until the last tube is below "
    "Mf' at its smallest return stress, hottest bay; opposed sets cooled under load while the "
    "other heats, or cooled and then re-twisted (times add). The two are never averaged."
)
GATES = (
    "Return gate, cases with a return: Mf' at the smallest return stress less lot tolerance must "
    "lie above the bay by the gate. Self-start gate, every case and soak: As at zero stress less "
    "lot tolerance must lie above the bay by the gate."
)
LIFE = (
    "Each case has its folds over the life; Miner's sum at unfactored moments, with a factor on "
    "lives. Outer stress = 1.4 T r_o/J. A card without a life law needs a declared allowable."
)
MARGINS = (
    "Margins in the scale of the model: temperatures per 10 K, strains per 0.01, times by the "
    "logarithm of limit over value, the rest as share of the limit. The figure beside each bar is"
    " the margin in its own unit; negative: does not hold."
)
COSTS = (
    "Multipliers of the continuous optimum with discrete choices fixed: mass of the aircraft per "
    "unit of the normalised row."
)
LIMITS = (
    "Bounds that no design of this kind can pass; the share used is 100 % at the bound. A design "
    "that meets its requirements and lies beyond one shows a fault of the model."
)
MASS = "Growth allowance per line by its class; aircraft, both wings."
