"""What was found about an optimum: blocks of the summary, and plain data for scripts."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from typing import Any

import pandas as pd

from mdo.defend.comparison.sentences import findings
from mdo.defend.conflicts.answers import MISSION_KEPT
from mdo.defend.defence import defence_of
from mdo.optimise.appraisal import Appraisal
from mdo.report.words import table
from mdo.report.words.cells import FROM_MEMORY, PAGE, Style, terminal
from mdo.study.number_text import bulleted, percent, quantity, wrapped

Lines = list[str]
Tables = Mapping[str, pd.DataFrame]
MOST_COSTS, MOST_CHOICES, MOST_RELAXATIONS = 12, 12, 8
SHOWN = ("costs", "answers", "conflicts", "versus", "break_even", "test_plan", "choices")


def defence_dict(appraisal: Appraisal, tables: Tables) -> dict[str, Any] | None:
    """Tables of the defence as plain data in SI; None for a design that was not defended."""
    if defence_of(appraisal) is None:
        return None
    kept = {name: tables[name].replace([math.inf, -math.inf], math.nan) for name in SHOWN
            if name in tables}  # fmt: skip
    return {
        name: table.astype(object).where(table.notna(), None).to_dict("records")
        for name, table in kept.items()
    }


def relaxations(conflicts: pd.DataFrame, most: int = MOST_RELAXATIONS) -> pd.DataFrame:
    """Return what to relax: numbered answers, each a change alone or two together."""
    enough = conflicts[conflicts["suffices"].astype(bool)]
    place = enough.groupby("answer", sort=False).ngroup() + 1
    answers = enough.assign(place=place, first=~enough["answer"].duplicated())
    return answers[answers["place"] <= most]


def conflict_lines(tables: Tables, units: str) -> Lines:
    """Block on what must give where nothing is feasible; nothing else."""
    if "conflicts" not in tables:
        return []
    conflicts = tables["conflicts"]
    lines, answers = answer_lines(tables, units), relaxations(conflicts)
    lines += ["CONFLICTS: least changes with which a design exists; counts free, no path followed"]
    lines += (
        ["  none of one or two within their ranges"]
        if answers.empty
        else table.terminal_lines("relaxations", answers, units)
    )
    alone = conflicts.query("not suffices and what == 'alone'")["requirement"]
    if len(alone):
        lines += wrapped(f"not by itself: {', '.join(alone)}", indent="  ", hanging="    ")
    return lines


def answer_lines(tables: Tables, units: str) -> Lines:
    """Lines on what makes an infeasible study feasible, and on what was tried."""
    if "answers" not in tables:
        return []
    answers = tables["answers"]
    works = answers[answers["feasible"].astype(bool)]
    counts = answers["kind"].value_counts(sort=False)
    tried = ", ".join(f"{count} x {kind}" for kind, count in counts.items())
    lines = ["WHAT MAKES IT FEASIBLE: each change alone, typed in and solved again in whole tubes"]
    if works.empty:
        lines += wrapped(f"nothing that was tried. {MISSION_KEPT}", indent="  ")
    else:
        lines += table.terminal_lines("answers", works[:MOST_RELAXATIONS], units)
    return [*lines, *wrapped(f"tried: {tried}", indent="  ", hanging="    "), ""]


def defence_blocks(appraisal: Appraisal, tables: Tables, units: str) -> list[Lines]:
    """Blocks on costs, comparison, what to measure, what to buy and choices, those there are."""
    blocks = []
    if "costs" in tables:
        head = "COSTS of the requirements: mass of the aircraft by one step, harder and easier"
        costs = table.shown_lines("costs", tables["costs"])[:MOST_COSTS]
        blocks.append([head, *table.terminal_lines("costs", costs, units)])
    blocks.append(_versus(appraisal, tables, units))
    if "test_plan" in tables:
        blocks.append(_plan(tables, units))
    if "choices" in tables:
        choices = tables["choices"]
        fine = int(choices["status"].eq("feasible").sum())
        head = f"STUDY OF CHOICES: {fine} of {len(choices)} combinations are feasible, best first"
        few = shown_choices(choices, terminal(units), without={"over the best", "status"})
        few = few._replace(rows=few.rows[:MOST_CHOICES])
        blocks.append([head, *table.in_lines(few)])
    return blocks


def _versus(appraisal: Appraisal, tables: Tables, units: str) -> Lines:
    defence = defence_of(appraisal)
    if defence is None or defence.comparison is None:
        return []
    lines = ["AGAINST A CONVENTIONAL HINGE (aircraft; 5 to 95 % in brackets)"]
    lines += bulleted(findings(defence.comparison, units))
    if "break_even" not in tables:
        return lines
    turns = table.terminal_lines("break_even", tables["break_even"], units)
    if len(turns) > 1:
        return [*lines, "  What would make both equally heavy, each alone:", *turns]
    return [*lines, "  No single number within its range makes both equally heavy."]


def _plan(tables: Tables, units: str) -> Lines:
    odds = tables["sensitivity_odds"].set_index("name")["value"]
    met = percent(float(odds["probability_met"]))
    lines = [
        "MEASURE FIRST (methods from memory: confirm the current issue)",
        f"  the design as drawn meets everything in {met} of the ranges of its inputs",
    ]
    for number, line in enumerate(tables["test_plan"].itertuples(), 1):
        low, high = (quantity(end, line.unit, units, digits=3) for end in (line.low, line.high))
        share = percent(max(line.mass_share, line.verdict_share))
        method = (line.standards or line.measure).replace(FROM_MEMORY, "")
        text = (
            f"{number}. {line.meaning}: known to {low} to {high}, {share} of the uncertainty in "
            f"the {line.for_what}; {method}"
        )
        lines += wrapped(text, indent="  ", hanging="     ")
    return lines


def _choice_names(choices: pd.DataFrame, *, varied: bool) -> list[str]:
    """Choices of a study of choices that vary, or those that do not."""
    names = list(choices.columns[1 : list(choices.columns).index("status")])
    return [name for name in names if (len(set(choices[name])) > 1) is varied]


def fixed_choices(choices: pd.DataFrame) -> list[str]:
    """Return what is the same in all combinations, in words."""
    values = choices[_choice_names(choices, varied=False)].iloc[0]
    return [f"{name.replace('_', ' ')} {value}" for name, value in values.items() if value != ""]


def shown_choices(
    choices: pd.DataFrame, style: Style = PAGE, without: Collection[str] = ()
) -> table.Table:
    """Return every combination of the choices; what does not work ranks last."""
    works = choices["status"] == "feasible"
    limits = choices["requirement"].where(choices["requirement"] != "", choices["notes"])
    varied = _choice_names(choices, varied=True)
    spoken = {name: choices[name].astype(str).str.replace("_", " ")
              for name in varied if name != "alloy"}  # fmt: skip
    lines = choices.assign(limits=choices["limits"].where(works, limits), **spoken)
    columns = {
        "rank": "place rank", **{name.replace("_", " "): f"{name} plain" for name in varied},
        "mass": "system_mass working_mass", "over the best": "over_best working_share",
        "status": "status", "limited by, or ruled out by": "limits",
    }  # fmt: skip
    shown = {title: what for title, what in columns.items() if title not in without}
    made = table.table_of(lines, shown, style=style, kind="tight", sortable=True)
    return made._replace(marks=["" if feasible else "dim" for feasible in works])
