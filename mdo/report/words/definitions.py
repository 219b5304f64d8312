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
MULTIPLIERS = (
    "What the requirements at their limit cost: multipliers of the continuous optimum with "
    "discrete choices fixed, mass of the aircraft per unit of the normalised requirement."
)
COSTS = (
    "What the optimum would weigh more if a requirement were one step harder (and less if it were "
    "easier), everything else as it is and the design optimised again: the slope at this point, "
    "exact for small changes, discrete choices kept. The range is where the set of limits that "
    "the design stands on, and so the cost, stays the same. Aircraft."
)
LIMITS = (
    "Bounds that no design of this kind can pass; the share used is 100 % at the bound. A design "
    "that meets its requirements and lies beyond one shows a fault of the model."
)
MASS = "Growth allowance per line by its class; aircraft, both wings."
CONFLICTS = (
    "For each requirement alone, the smallest change with which a feasible design exists was "
    "sought within its range, then for pairs. Every answer was verified: the study was solved "
    "there, and found infeasible just short of it."
)
VERSUS = (
    "Conventional hinges for the same legs, moments, margins, times, lock and growth. Intervals: 5 "
    "to 95 % over the ranges of card and assumptions, taken as independent and even. 'As drawn' "
    "keeps the design and lets the inputs vary; 'held to the requirements' sizes it again in each "
    "sample."
)
INPUTS = (
    "Card and assumptions over their ranges, taken as independent and even. The probability is "
    "that of the design as drawn, nothing adjusted. Changes of mass are of the design optimised "
    "again, to first order."
)
FAILURES = (
    "What one failure does, as far as this fidelity allows; what is 'reported only' has no limit "
    "in the study. This does not replace a safety assessment."
)
VALIDATION = (
    "Equations against worked cases, independent libraries and independent solutions, run as tests "
    "of this tool. Measured data: none. 'From memory': the source was not at hand."
)
NO_LIFE_LAW = (
    "The alloy card has no life law: the life is a stress and a strain that are declared to stand "
    "the declared number of cycles, so a leg uses its cycles over those."
)

# How to read a figure, printed under it.
MARGINS_READ = (
    "Bars are in the scale of the model (0: at the limit, to the left: does not hold), so compare "
    "them for what is near, not for what is hard to gain; beside each bar its margin in its own "
    "unit. Only what stands at its limit can cost mass."
)
COSTS_READ = (
    "Blue: requirement or load; amber, hatched: technology. Steps differ, so read a bar together "
    "with its step. What is not in the figure costs nothing as the study stands."
)
MASS_READ = (
    "Blue: basic mass; amber, hatched: growth allowance by the class of each line. The longest "
    "bars are where better data or a better part pays."
)
WATERFALL_READ = (
    "Read from the top: each step adds to what stands above it (blue alloy, green other parts, "
    "amber growth; rust with a minus takes away). The order of the steps decides the split, not "
    "the sum. Aircraft, both wings."
)
VERSUS_READ = (
    "Dot: value with the study's numbers; bar: 5 to 95 % over the ranges of the inputs. Scales are "
    "logarithmic: where bars do not overlap, no doubt about the inputs turns the order."
)
TORQUE_READ = (
    "One figure per leg, each with its own scale. The solid blue line must lie above the dashed "
    "rust line by the margin that is required; what lies between the grey band and the rust line "
    "is friction, inertia and damping. A required moment below zero: the load assists. A curve "
    "that touches at one end is sized by that end. A leg that only holds has marks: "
    "round available, square required. One wing."
)
TIMES_READ = (
    "Bar: time of the leg (blue fold, green return, rust and hatched late); upright stroke: what "
    "is allowed. Bars that reach their stroke are what heater power is bought for."
)
WINDOW_READ = (
    "An alloy serves if its three temperatures without stress lie in the green rows; room to the "
    "right of Mf and As is reserve against a hot bay, room to the left of Af against the limits "
    "of heat."
)
INPUTS_READ = (
    "Change of the mass, the design optimised again, with one input at the low (blue) and at the "
    "high end (rust, hatched) of its range. The longest bars are the numbers worth a test."
)
