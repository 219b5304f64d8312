"""Studies at the ends of the ranges of their fields: what is accepted is evaluated without NaN."""

from __future__ import annotations

import json
import random
import tomllib
from copy import deepcopy
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from mdo.optimise.problem import make_problem
from mdo.report.words.summary import summary_text
from mdo.report.words.summary_data import summary_dict
from mdo.run.design_analyses import evaluate_analysis
from mdo.study import Study, StudyError, study_from_dict
from mdo.study.cases import Case
from mdo.study.fields import Field, declared
from mdo.study.read_sections import assumption_fields
from mdo.study.sections import Actuator, Requirements, Supply, Vehicle

STUDIES = Path(__file__).parents[2] / "studies"
CONTENT = tomllib.loads((STUDIES / "deck_small.toml").read_text(encoding="utf-8"))
SECTIONS: dict[str, type] = {
    "vehicle": Vehicle, "supply": Supply, "requirements": Requirements, "actuator": Actuator,
    "case": Case,
}  # fmt: skip
INFINITE = {"peclet_number", "stuck_on_time"}  # where no air is blown, and never; no number is NaN


def fields() -> list[tuple[str, str, Field]]:
    """Section, name and declaration of every quantity with a range."""
    declarations = {name: declared(cls) for name, cls in SECTIONS.items()}
    declarations |= {f"assumptions.{name}": dict(of) for name, of in assumption_fields().items()}
    return [
        (section, name, field)
        for section, of in declarations.items()
        for name, field in of.items()
        if field.kind in {"quantity", "difference"} and field.low is not None
    ]


def extreme(chance: random.Random) -> Study | None:
    """The small study with some fields at an end of their range, or None if it is refused."""
    content: dict[str, Any] = deepcopy(CONTENT)
    for section, name, field in chance.sample(fields(), chance.choice([1, 1, 2, 4])):
        here: Any = content
        for step in section.split("."):
            here = here.setdefault(step, {})
        if section == "case":
            here = chance.choice(here)
        here[name] = chance.choice([one for one in (field.low, field.high) if one is not None])
    try:
        return study_from_dict(content, folder=STUDIES)
    except StudyError:
        return None


@pytest.mark.slow
def test_what_is_accepted_at_the_ends_of_its_ranges_is_evaluated_to_numbers() -> None:
    chance = random.Random(5)
    accepted = 0
    while accepted < 60:
        study = extreme(chance)
        if study is None:
            continue
        accepted += 1
        appraisal = evaluate_analysis(make_problem(study), lambda _: None)
        values = appraisal.values
        lost = {name for name, value in values.items() if not np.isfinite(value).all()}
        lost -= {name for name in INFINITE if not np.isnan(values[name]).any()}
        assert not lost, (study.content, lost)
        assert "nan" not in summary_text(appraisal, "si").lower().split()
        assert json.dumps(summary_dict(appraisal))
