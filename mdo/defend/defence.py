"""The defended optimum: everything that a review asks about the answer of the optimiser.

What each requirement costs or, where nothing is feasible, what to relax; the comparison with the
conventional hinges and what would turn it; how sensitive the design is and what to measure first;
every combination of discrete choices.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields

import pandas as pd

from mdo.defend.choices.study import EXCLUDED, FEASIBLE, ChoiceStudy, find_choices
from mdo.defend.choices.table import choices_table
from mdo.defend.comparison.break_even import BreakEven, break_even_table, find_break_even, sentence
from mdo.defend.comparison.compare import Comparison, ComparisonLine, compare, geared_table
from mdo.defend.comparison.intervals import intervals_table
from mdo.defend.comparison.sentences import compared_failures_table, findings, rules_table
from mdo.defend.conflicts.answers import (
    FROM,
    Answer,
    AsStudy,
    answers_table,
    first_answers,
    further_answers,
    relaxable,
)
from mdo.defend.conflicts.conflicts import NO_CONFLICTS, Conflicts, conflicts_table, find_conflicts
from mdo.defend.costs.multipliers import Cost, costs_table, find_costs
from mdo.defend.costs.ranges import find_ranges
from mdo.defend.drawn_inputs import evaluate_drawn
from mdo.defend.sensitivity.elasticity import (
    Elasticity,
    elasticities_table,
    find_elasticities,
    known_numbers,
)
from mdo.defend.sensitivity.measurement_plan import LabTest, test_plan, test_plan_table
from mdo.defend.sensitivity.sensitivity import Sensitivity, find_sensitivity
from mdo.defend.sensitivity.sensitivity_tables import sensitivity_tables
from mdo.defend.tables.frame import of_lines
from mdo.defend.tables.other_set import other_set_table, states_of
from mdo.defend.uncertain import uncertain_inputs
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.knob_list import requirements_of, technologies_of
from mdo.optimise.linear_algebra import one_thread
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem
from mdo.optimise.starts import starting_designs

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Defence:
    """What was found about an optimum; parts that do not apply or were not asked for are None.

    Attributes
    ----------
    costs
        What each requirement, load and technology value costs; empty for an infeasible study.
    conflicts
        What to relax; without entries for a feasible study.
    answers
        What was tried to make an infeasible study feasible, each solved as a study.
    comparison, break_even
        Comparison with the conventional hinges, and what would turn it.
    sensitivity, elasticities, plan
        How the design answers to its uncertain inputs and to the known numbers of the study, and
        the test plan that follows.
    choices
        Every combination of the discrete choices that the study lists.
    states
        Every state of the other set of a pair, trained or not.
    """

    costs: tuple[Cost, ...] = ()
    conflicts: Conflicts = NO_CONFLICTS
    answers: tuple[Answer, ...] = ()
    comparison: Comparison | None = None
    break_even: tuple[BreakEven, ...] = ()
    sensitivity: Sensitivity | None = None
    elasticities: tuple[Elasticity, ...] = ()
    plan: tuple[LabTest, ...] = ()
    choices: ChoiceStudy | None = None
    states: ChoiceStudy | None = None


@dataclass(frozen=True, kw_only=True)
class Defended(Appraisal):
    """An appraisal of an optimum, with what was found about it."""

    defence: Defence


def defended(appraisal: Appraisal, defence: Defence) -> Defended:
    """Join an appraisal and its defence."""
    return Defended(
        **{f.name: getattr(appraisal, f.name) for f in fields(Appraisal)}, defence=defence
    )


def defence_of(appraisal: Appraisal) -> Defence | None:
    """Defence of a design; None if it was not defended."""
    return appraisal.defence if isinstance(appraisal, Defended) else None


def find_defence(appraisal: Appraisal, say: Progress, as_study: AsStudy | None = None) -> Defence:
    """Defend an optimum, as far as ``[analysis.defence]`` asks for.

    Parameters
    ----------
    appraisal : of an optimum
    say : told what is being done
    as_study : solves a study in whole tubes, near a design: what answers to an infeasible study
        are judged by; None judges them by the least violation alone

    Raises
    ------
    ValueError
        If the design was not optimised.
    """
    optimum = appraisal.optimum
    if optimum is None:
        raise ValueError("only an optimum can be defended: this design was evaluated")
    wanted = appraisal.study.analysis.defence
    choices = None
    with one_thread():
        if wanted.choices:
            bound = appraisal.continuous.problem
            choices = find_choices(bound, wanted.choices, progress=say)
        if optimum.feasible:
            return _of_feasible(appraisal, optimum, choices, say)
        return _of_infeasible(appraisal.problem, optimum, choices, as_study, say)


def _of_infeasible(
    problem: DesignProblem,
    optimum: Optimum,
    choices: ChoiceStudy | None,
    as_study: AsStudy | None,
    say: Progress,
) -> Defence:
    """Defence of an infeasible optimum: what conflicts, and what makes it feasible."""
    answers: list[Answer] = []
    if as_study is not None:
        starts = (start.design for start in starting_designs(problem, FROM))
        near = [optimum.design, *starts]
        answers += first_answers(problem, near, choices, as_study, say)
    knobs = relaxable(problem, requirements_of(problem)) + technologies_of(problem)
    conflicts = find_conflicts(problem, optimum, knobs, progress=say)
    if as_study is not None:
        answers += further_answers(problem, near, conflicts, as_study, say)
    return Defence(conflicts=conflicts, answers=tuple(answers), choices=choices)


def _of_feasible(
    appraisal: Appraisal, optimum: Optimum, choices: ChoiceStudy | None, say: Progress
) -> Defence:
    """Defence of a feasible optimum: what is drawn and compared is the design in whole tubes.

    What is optimised again with other numbers, or costs something, is its bound.
    """
    bound = appraisal.continuous.optimum
    assert bound is not None
    problem = bound.problem
    wanted = appraisal.study.analysis.defence
    say("Costs of the requirements")
    costs = find_costs(problem, bound)
    if wanted.cost_ranges:
        costs = find_ranges(problem, bound, costs, progress=say)
    inputs = uncertain_inputs(problem)
    drawn = evaluate_drawn(
        optimum.problem, optimum.design, inputs, samples=wanted.samples, progress=say
    )
    comparison = compare(appraisal, drawn, hydraulic=wanted.hydraulic, progress=say)
    break_even = find_break_even(problem, bound, progress=say) if wanted.break_even else ()
    say("Numbers of the study that are known")
    elasticities = find_elasticities(problem, bound, known_numbers(problem, inputs))
    sensitivity = find_sensitivity(optimum, drawn, progress=say)
    states = None
    if wanted.states and len(other_set_table(appraisal)):
        say("States of the other set")
        states = find_choices(problem, states_of(problem.study), near=bound.design, progress=say)
    return Defence(
        costs=costs, comparison=comparison, break_even=break_even, sensitivity=sensitivity,
        elasticities=elasticities, plan=test_plan(sensitivity, appraisal), choices=choices,
        states=states,
    )  # fmt: skip


def defence_tables(appraisal: Appraisal) -> dict[str, pd.DataFrame]:
    """Tables of the parts that were found, by name; none for a design that was not defended."""
    defence = defence_of(appraisal)
    if defence is None:
        return {}
    tables: dict[str, pd.DataFrame] = {}
    if defence.costs:
        tables["costs"] = costs_table(defence.costs)
    if defence.answers:
        tables["answers"] = answers_table(defence.answers)
    if defence.conflicts != NO_CONFLICTS:
        tables["conflicts"] = conflicts_table(defence.conflicts)
        tables["conflict_core"] = pd.DataFrame({"requirement": list(defence.conflicts.core)})
    if defence.comparison is not None:
        hydraulic = defence.comparison.hydraulic
        tables |= {
            "versus": of_lines(ComparisonLine, defence.comparison.lines),
            "intervals": intervals_table(defence.comparison.intervals, hydraulic=hydraulic),
            "versus_words": _words(findings(defence.comparison)),
            "versus_rules": rules_table(appraisal),
            "versus_failures": compared_failures_table(appraisal, hydraulic=hydraulic),
            "geared": geared_table(appraisal),
        }
    if defence.break_even:
        tables["break_even"] = break_even_table(defence.break_even)
        tables["break_even_words"] = _words(sentence(result) for result in defence.break_even)
    if defence.sensitivity is not None:
        tables |= sensitivity_tables(defence.sensitivity)
        tables["sensitivity_study"] = elasticities_table(defence.elasticities)
        tables["test_plan"] = test_plan_table(defence.plan)
    if defence.choices is not None:
        tables["choices"] = choices_table(defence.choices)
    if defence.states is not None:
        states = choices_table(defence.states)
        works = states["status"].isin([FEASIBLE, EXCLUDED])
        added = (states["system_mass"] - appraisal.continuous.mass).where(works)
        tables["other_set_optimum"] = states.assign(added=added)
    return tables


def _words(lines: Iterable[str]) -> pd.DataFrame:
    return pd.DataFrame({"text": list(lines)})
