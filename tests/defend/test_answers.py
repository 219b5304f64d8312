"""What makes an infeasible study feasible: typed in as it is printed, the study is feasible."""

from __future__ import annotations

import re
import tomllib
from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from mdo.cli.text import as_json
from mdo.defend.choices.combinations import combinations, study_with
from mdo.defend.conflicts.answers import (
    CASE,
    CHOICE,
    PROGRESS,
    REQUIREMENT,
    TWO,
    Answer,
    answers_table,
    lines_to_type,
    relaxable,
)
from mdo.defend.conflicts.conflicts import NO_CONFLICTS, conflicts_table
from mdo.defend.defence import defence_tables, defended
from mdo.defend.tables.design import result_tables
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.knob_list import requirements_of
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import make_problem
from mdo.report import Source, render_report
from mdo.report.words.summary import summary_text
from mdo.report.words.summary_data import summary_dict
from mdo.run.analyses import run_study
from mdo.run.design_analyses import defence_analysis
from mdo.study import Study, load_study, study_from_dict

STUDIES = Path(__file__).parents[2] / "studies"
SMALL = STUDIES / "deck_small.toml"
OWN = Path(__file__).parent / "infeasible"
INFEASIBLE: dict[str, tuple[Path, dict[str, Any]]] = {
    "flight and deck fold of 400 kg": (OWN / "aircraft_400.toml", {}),
    "its wind tunnel model": (OWN / "tunnel_model.toml", {}),
    "too little time and power": (STUDIES / "deck_medium_infeasible.toml", {}),
    "too little time": (SMALL, {"requirements.fold_time": "60 s"}),
    "one hot case": (SMALL, {"case.hot_soak.soak_temperature": "140 degC"}),
    "too little power": (SMALL, {"supply.power_available": "0.1 kW"}),
    "alloy too cool": (SMALL, {"actuator.alloy": "niti_actuator"}),
    "little life": (STUDIES / "bench_500_0_90.toml", {"actuator.declared_life_stress": "20 MPa"}),
    "nothing winds it back": (STUDIES / "bench_500_0_90.toml", {"actuator.trained": False}),
    "no room": (STUDIES / "bench_500_45_45.toml", {"bench.envelope_height": "9 mm"}),
    "hot laboratory": (STUDIES / "bench_500_45_45.toml", {"requirements.bay_hot": "130 degC"}),
    "return in a hurry": (STUDIES / "bench_500_45_45.toml", {"requirements.return_time": "20 s"}),
}  # fmt: skip


def infeasible_study(name: str) -> Study:
    """Study of that name, defended from two starts, every other choice tried one by one."""
    file, changes = INFEASIBLE[name]
    study = load_study(file).with_values(changes)
    content = {**study.content, "analysis": {"defence": {"starts": 2}}}
    return study_from_dict(content, folder=study.folder)


def typed(study: Study, answer: Answer) -> Study:
    """Study with an answer typed in, read from the lines that are printed."""
    if answer.kind == CASE:
        name = answer.lines.split('"')[1]
        cases = [case for case in study.content["case"] if case["id"] != name]
        return study_from_dict({**study.content, "case": cases}, folder=study.folder)
    changes: dict[str, Any] = {}
    content = deepcopy(dict(study.content))
    for line in answer.lines.split("; "):
        if line.startswith("leave out "):
            *tables, name = line.removeprefix("leave out ").split(".")
            here: Any = content
            for key in tables:
                named = isinstance(here, list)
                here = next(one for one in here if one["id"] == key) if named else here[key]
            del here[name]
            continue
        path, _, value = line.partition(" = ")
        changes[path] = tomllib.loads(f"value = {value}")["value"]
    return replace(study, content=content).with_values(changes)


@pytest.mark.parametrize("choice", [{"configuration": "spring_return"}, {"topology": "plated"}])
def test_the_lines_of_a_choice_typed_in_are_its_study(choice: dict[str, str]) -> None:
    study = load_study(SMALL)
    wanted = {name: (value,) for name, value in choice.items()}
    changed = study_with(study, combinations(study, wanted)[0].whole)
    lines = "; ".join(lines_to_type(study.content, changed.content))
    assert all(f'actuator.{name} = "{value}"' in lines for name, value in choice.items())
    answer = Answer(CHOICE, "", "", lines)
    assert typed(study, answer).content == changed.content


@pytest.mark.slow
@pytest.mark.parametrize("name", INFEASIBLE)
def test_the_first_answer_typed_in_is_feasible_or_what_was_tried_is_listed(name: str) -> None:
    study = infeasible_study(name)
    found = defence_analysis(make_problem(study), lambda _: None)
    answers = [
        Answer(**line)
        for line in defence_tables(found)["answers"].drop(columns="feasible").to_dict("records")
    ]
    assert found.violated
    kinds = list(dict.fromkeys(answer.kind for answer in answers))
    assert kinds == sorted(kinds, key=[CASE, CHOICE, REQUIREMENT, TWO, PROGRESS].index)
    works = [answer for answer in answers if answer.feasible]
    page = render_report(Source(found, result_tables(found)))
    assert f"Everything that was tried ({len(answers)})" in page
    if not works:
        assert all(answer.failing for answer in answers)
        return
    assert not re.search(r"[0-9] (Pa|rad)\b", works[0].lines)  # as the study writes it
    again = run_study(replace(typed(study, works[0]), analyses=("optimum",)))
    assert again.exit_code == 0
    assert again.summary()["system_mass"] == pytest.approx(works[0].system_mass, rel=1e-4)


def test_rows_alike_where_a_start_stands_are_told_apart_where_it_ends() -> None:
    """Both legs of the flight fold ask the same of life at the start, not at the optimum."""
    study = load_study(OWN / "aircraft_400.toml")
    flight = [case for case in study.content["case"] if case["id"] == "cruise"]
    problem = make_problem(study_from_dict({**study.content, "case": flight}, folder=study.folder))
    optimum = find_optimum(problem, starts=1)
    assert optimum.feasible
    assert problem.evaluate(optimum.design).rows.min() > -1e-6
    assert optimum.mass == pytest.approx(24.982, abs=0.01)


def test_the_mission_is_not_relaxed_unless_the_study_allows_it(medium: Appraisal) -> None:
    problem = medium.problem
    knobs = requirements_of(problem)
    kept = {knob.name for knob in relaxable(problem, knobs)}
    mission = {"angle_range", "folds", "flight_load_factor", "deck_wind", "power_available"}
    assert mission <= {knob.name for knob in knobs}
    assert not mission & kept
    assert {"fold_time", "torque_margin", "bay_hot"} <= kept
    allowed = make_problem(medium.study.with_values({"analysis.defence.relax_mission": True}))
    assert relaxable(allowed, knobs) == knobs


def test_terminal_and_page_say_what_works_and_what_was_tried(medium_case: Any) -> None:
    broken = medium_case.appraise(heater_power=[100.0, 100.0])
    answers = (
        Answer(CASE, "without case 'a'", "Fold time (b)", 'leave out the [[case]] with id = "a"'),
        Answer(REQUIREMENT, "fold time", "", 'requirements.fold_time = "110.0 s"', "feasible",
               12.5),
    )  # fmt: skip
    tables = {
        "answers": answers_table(answers),
        "conflicts": conflicts_table(replace(NO_CONFLICTS, violation=0.1)),
        "conflict_core": pd.DataFrame({"requirement": []}),
    }
    found = defended(broken, tables)
    text = summary_text(found)
    assert "WHAT MAKES IT FEASIBLE" in text
    assert 'requirements.fold_time = "110.0 s"' in text
    assert "tried: 1 x case left out, 1 x requirement" in text
    assert "without case 'a'" not in text
    page = render_report(Source(found, result_tables(found)))
    assert "without case" in page
    assert as_json(summary_dict(found))
    told = summary_text(replace(broken, kind="optimum"))
    assert "--analysis defence" in told
    assert "Where the design misses" in told


def test_a_relaxation_that_makes_no_study_is_told() -> None:
    """The cold bay of the small study (-20 degC) over its hot one of 55 degC."""
    from types import SimpleNamespace

    from mdo.defend.conflicts.answers import _relaxed
    from mdo.optimise.knob_list import all_knobs

    problem = make_problem(load_study(STUDIES / "deck_small.toml"))
    knob = next(one for one in all_knobs(problem) if one.name == "bay_cold")
    trials, found = (
        SimpleNamespace(problem=problem),
        SimpleNamespace(knobs=(knob,), settings=(343.15,)),
    )
    answer = _relaxed(trials, "requirement", found)  # type: ignore[arg-type]
    assert not answer.feasible
    assert answer.failing.startswith("no study: ")
    assert "bay_cold at most bay_hot" in answer.failing
