"""Phases of the analyses, for the time left: what each step takes on two ordinary cores."""

from __future__ import annotations

import math
from dataclasses import replace

from mdo.run.progress import Phase
from mdo.study import Study

COMPILING = Phase("Compiling", 20.0, measured=False)
WRITING = Phase("Writing", 4.0, last=True)
BESIDE = (
    Phase("Marching every leg", 10.0, measured=False),
    Phase("Verified: round", 1.5, 12, counted=True),
    Phase("Neighbouring levels", 20.0, measured=False),
)
PIECE = 192  # points of one piece of work on a CPU
PIECE_SECONDS = 3.0
LEVELS = ("First points", "Next points", "More points", "All points")
LEVEL_ENDS = (32, 160, 2000, math.inf)


def of_evaluate(_: Study) -> list[Phase]:
    """Phases of an evaluation."""
    return [Phase("Evaluating (the given|a first guess)", 1.0), *BESIDE]


def of_optimum(study: Study) -> list[Phase]:
    """Phases of an optimum."""
    return _found(study, study.analysis.optimum.starts)


def _found(study: Study, starts: int) -> list[Phase]:
    """An optimum: its bound, verified, and the design in whole tubes, verified as well."""
    stock = study.analysis.defence.stock
    after = [*BESIDE[:2], *([Phase("Correction", 2.0, 6)] if study.fidelity.correct else [])]
    whole = Phase("Whole tubes", 3.0, 2 + len(stock.tubes))
    return [*_started(starts), *after, whole, *after, *BESIDE[2:]]


def _started(starts: int) -> list[Phase]:
    return [Phase("Count problem", 3.0, measured=False), Phase("Start", 0.5, starts)]


def of_own_paths(study: Study) -> list[Phase]:
    """Phases of the bound, verified, from which explorations start."""
    return [*_started(study.analysis.optimum.starts), *BESIDE[:2]]


def of_defence(study: Study) -> list[Phase]:
    """Phases of a defence."""
    wanted = study.analysis.defence
    phases = _found(study, wanted.starts)
    if wanted.states and study.actuator.configuration == "opposed":
        phases.append(Phase("States of the other set", 25.0))
    if wanted.choices:
        combinations = math.prod(map(len, wanted.choices.values()))
        phases.append(Phase(r"Choices: \d+ dist", 0.8, combinations))
        phases.append(Phase("Choices: .*again", 3.0))
    phases += [Phase("Conflicts", 2.0, 0, instead=True), Phase("Costs", 3.0)]
    if wanted.cost_ranges:
        phases.append(Phase("Range of cost", 2.5, 20))
    phases += [Phase("Evaluating", 4.0), Phase("Slopes of the figures", 8.0)]
    if wanted.break_even:
        phases.append(Phase("Break-even", 0.6, 31))
    phases += [Phase("Numbers", 5.0), Phase("Mass to hold", 1.5)]
    phases.append(Phase("Optimum at both", 0.6, 10))
    return phases


def _combinations(choices: dict[str, tuple[object, ...]]) -> int:
    return math.prod(max(len(values), 1) for values in choices.values())


def of_map(study: Study) -> list[Phase]:
    """Phases of a map."""
    plan = study.analysis.map
    count = math.prod(plan.levels.values()) if plan.sample == "factorial" else plan.points
    one = _points(count)
    if study.fidelity.correct:
        spread = 3 * (len(plan.axes) + 1)
        again = Phase("Points", _seconds(count), math.ceil(count / PIECE))
        dear = Phase("Optima at the dear levels", 3.0, min(spread, plan.dear_points))
        one += [dear, again, one[-1], replace(dear, steps=plan.held_out)]
    return one * _combinations(dict(plan.choices))


def _points(count: int) -> list[Phase]:
    """Phases of the optima at some points."""
    phases = [
        Phase("Compiling the optimiser", 15.0, measured=False),
        Phase("Starting designs", 1.5, measured=False),
        Phase("Middle of the axes", 2.0),
    ]
    done = 0
    for title, end in zip(LEVELS, LEVEL_ENDS, strict=True):
        here = int(min(count, end)) - done
        if here > 0:
            phases.append(Phase(title, _seconds(here), math.ceil(here / PIECE)))
            done += here
    again = max(1, count // 3)
    return [*phases, Phase("Second look", _seconds(again), math.ceil(again / PIECE))]


def _seconds(points: int) -> float:
    """What one piece of so many points takes."""
    return PIECE_SECONDS * max(0.3, min(points, PIECE) / PIECE)


def of_front(study: Study) -> list[Phase]:
    """Phases of a front."""
    plan = study.analysis.front
    rounds = Phase("Front: ", 2.0, max(4, plan.points // 12))
    return [rounds] * _combinations(dict(plan.choices))


def of_sweep(study: Study) -> list[Phase]:
    """Phases of a sweep."""
    plan = study.analysis.sweep
    return [Phase("Sweep: chunk", 4e-5 * plan.chunk, math.ceil(plan.designs / plan.chunk))]


def of_sensitivity(study: Study) -> list[Phase]:
    """Phases of the indices."""
    plan = study.analysis.sensitivity
    phases = [Phase("Sensitivity: the optimum", 5.0, measured=False)]
    if "design" in plan.of:
        phases.append(Phase(r".*: chunk", 2.0, 4))
    if "optimum" in plan.of:
        phases += _points(plan.optimum_samples * (plan.inputs_most + 2))
    return phases


def of_scaling(study: Study) -> list[Phase]:
    """Phases of the families."""
    plan = study.analysis.scaling
    modes = 2 if plan.checks else 1
    return [Phase("Families: chunk", 3.0 * len(plan.sizes), len(plan.laws) * modes)]


def of_assurance(study: Study) -> list[Phase]:
    """Phases of a sizing over samples."""
    plan = study.analysis.assurance
    wanted = len(plan.probabilities) + (plan.fixed_samples > 0)
    seconds = 0.02 * plan.samples
    phases = [
        Phase("Assurance: the optimum", 5.0, measured=False),
        Phase("Sizing: chunk", 8.0 * seconds, wanted),
        Phase("Confirming", 10.0, max(1, wanted * plan.confirmation // 1024)),
        Phase("Sizing with an input", 6.0 * seconds, max(1, plan.measured)),
    ]
    if plan.axes:
        phases.append(Phase("Probability over", 5.0, plan.steps ** len(plan.axes)))
    return phases


def of_motion(study: Study) -> list[Phase]:
    """Phases of a motion."""
    plan = study.analysis.motion
    phases = [
        Phase("Motion: sizing", 5.0, measured=False),
        Phase("Motion: controller", 15.0, measured=False),
        Phase("Motion: the nominal", 5.0, measured=False),
        Phase("Motion: beside sizing", 10.0, measured=False),
    ]
    if plan.faults:
        phases.append(Phase("Motion: faults", 15.0, measured=False))
    if plan.scatter:
        phases.append(Phase(r"Motion: \d+ folds", 0.15 * plan.scatter, measured=False))
    return phases
