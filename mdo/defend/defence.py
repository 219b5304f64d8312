"""The defended optimum: everything that a review asks about the answer of the optimiser.

What each requirement costs or, where nothing is feasible, what to relax; the comparison with the
conventional hinges and what would turn it; how sensitive the design is and what to measure first;
every combination of discrete choices.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

import pandas as pd

from mdo.defend.choices.study import EXCLUDED, FEASIBLE, find_choices
from mdo.defend.choices.table import choices_table
from mdo.defend.comparison.break_even import break_even_tables, find_break_even
from mdo.defend.comparison.compare import Comparison, compare
from mdo.defend.comparison.sentences import comparison_tables
from mdo.defend.conflicts.answers import AsStudy, what_makes_feasible
from mdo.defend.costs.multipliers import costs_table, find_costs
from mdo.defend.costs.ranges import find_ranges
from mdo.defend.drawn_inputs import evaluate_drawn
from mdo.defend.sensitivity.measurement_plan import test_plan
from mdo.defend.sensitivity.sensitivity import find_sensitivity
from mdo.defend.slopes import find_elasticities, known_numbers
from mdo.defend.tables.other_set import other_set_table, states_of
from mdo.defend.uncertain import uncertain_inputs
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.linear_algebra import one_thread
from mdo.optimise.optimum import Optimum, Progress

Tables = dict[str, pd.DataFrame]


@dataclass(frozen=True, kw_only=True)
class Defended(Appraisal):
    """An appraisal of an optimum, with what was found about it.

    Attributes
    ----------
    found
        Tables by name; none of a part that does not apply or was not asked for.
    comparison
        Comparison with the conventional hinges; None for an infeasible study.
    """

    found: Mapping[str, pd.DataFrame]
    comparison: Comparison | None = None


def defended(
    appraisal: Appraisal, found: Mapping[str, pd.DataFrame], comparison: Comparison | None = None
) -> Defended:
    """Join an appraisal and what was found about it."""
    own = {field.name: getattr(appraisal, field.name) for field in fields(Appraisal)}
    return Defended(**own, found=found, comparison=comparison)


def defence_of(appraisal: Appraisal) -> Defended | None:
    """Design with its defence; None if it was not defended."""
    return appraisal if isinstance(appraisal, Defended) else None


def defence_tables(appraisal: Appraisal) -> Mapping[str, pd.DataFrame]:
    """Tables of the parts that were found, by name; none for a design that was not defended."""
    defence = defence_of(appraisal)
    return {} if defence is None else defence.found


def ranked_inputs(appraisal: Appraisal) -> tuple[str, ...]:
    """Paths of the uncertain inputs of a defended optimum, those that matter most first."""
    found = defence_tables(appraisal)
    return tuple(found["sensitivity"]["input"]) if "sensitivity" in found else ()


def find_defence(appraisal: Appraisal, say: Progress, as_study: AsStudy) -> Defended:
    """Defend an optimum, as far as ``[analysis.defence]`` asks for.

    Parameters
    ----------
    appraisal : of an optimum
    say : told what is being done
    as_study : solves a study in whole tubes, near a design: what answers to an infeasible study
        are judged by

    Raises
    ------
    ValueError
        If the design was not optimised.
    """
    optimum, options = appraisal.optimum, appraisal.study.analysis.defence.choices
    if optimum is None:
        raise ValueError("only an optimum can be defended: this design was evaluated")
    with one_thread():
        choices = None
        if options:
            choices = find_choices(appraisal.continuous.problem, options, say)
        chosen = {} if choices is None else {"choices": choices_table(choices)}
        if optimum.feasible:
            return _of_feasible(appraisal, optimum, chosen, say)
        return defended(appraisal, what_makes_feasible(optimum, choices, as_study, say) | chosen)


def _of_feasible(appraisal: Appraisal, optimum: Optimum, chosen: Tables, say: Progress) -> Defended:
    """Defence of a feasible optimum: what is drawn and compared is the design in whole tubes.

    What is optimised again with other numbers, or costs something, is its bound.
    """
    bound = appraisal.continuous.optimum
    assert bound is not None
    problem, wanted = bound.problem, appraisal.study.analysis.defence
    say("Costs of the requirements")
    costs = find_costs(bound)
    if wanted.cost_ranges:
        costs = find_ranges(bound, costs, say)
    found = {"costs": costs_table(costs)} if costs else {}
    inputs = uncertain_inputs(problem)
    drawn = evaluate_drawn(optimum.problem, optimum.design, inputs, samples=wanted.samples, say=say)
    comparison = compare(appraisal, drawn, say, hydraulic=wanted.hydraulic)
    found |= comparison_tables(comparison)
    if wanted.break_even:
        found |= break_even_tables(find_break_even(bound, say=say))
    say("Numbers of the study that are known")
    elasticities = find_elasticities(bound, known_numbers(bound, inputs))
    sensitivity = find_sensitivity(optimum, drawn, say)
    found |= sensitivity.tables
    found |= {"sensitivity_study": elasticities, "test_plan": test_plan(sensitivity, appraisal)}
    found |= chosen
    if wanted.states and len(other_set_table(appraisal)):
        say("States of the other set")
        study = find_choices(problem, states_of(problem.study), say, near=bound.design)
        states = choices_table(study)
        works = states["status"].isin([FEASIBLE, EXCLUDED])
        added = (states["system_mass"] - appraisal.continuous.mass).where(works)
        found["other_set_optimum"] = states.assign(added=added)
    return defended(appraisal, found, comparison)
