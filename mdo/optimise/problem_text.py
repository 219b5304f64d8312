"""A study as text for another process, and back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from mdo.model.correction import Correction
from mdo.optimise.problem import DesignProblem, problem_of
from mdo.study.study import study_from_dict


def problem_context(problem: DesignProblem, options: Mapping[str, Any]) -> str:
    """Text from which another process makes the same problem; options are plain data."""
    study = {
        "content": problem.study.content,
        "folder": str(problem.study.folder.resolve()),
        "card_fields": dict(problem.card_fields),
        "correction": problem.correction and [np.asarray(a).tolist() for a in problem.correction],
    }
    return json.dumps({"study": study, "options": dict(options)})


def problem_in(context: str) -> DesignProblem:
    """Problem of a context, made once per process."""
    return _problem(json.dumps(json.loads(context)["study"]))


def options_in(context: str) -> dict[str, Any]:
    """Options of a context."""
    found: dict[str, Any] = json.loads(context)["options"]
    return found


@lru_cache(maxsize=2)
def _problem(text: str) -> DesignProblem:
    given = json.loads(text)
    study = study_from_dict(given["content"], folder=Path(given["folder"]))
    numbers = given["correction"]
    correction = numbers and Correction(*(np.array(part) for part in numbers))
    return problem_of(study, given["card_fields"], correction)
