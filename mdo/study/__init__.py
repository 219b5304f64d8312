"""The study file: schema, units at the edge, defaults, clear errors, JSON Schema."""

from __future__ import annotations

from mdo.study.cases import Case
from mdo.study.load_table import LoadTable
from mdo.study.reader import Input, StudyError
from mdo.study.sections import Design, PerSet, Variable
from mdo.study.study import Study, load_study, study_from_dict

__all__ = [
    "Case",
    "Design",
    "Input",
    "LoadTable",
    "PerSet",
    "Study",
    "StudyError",
    "Variable",
    "load_study",
    "study_from_dict",
]
