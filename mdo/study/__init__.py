"""The study file: schema, units at the edge, defaults, clear errors, JSON Schema."""

from __future__ import annotations

from mdo.study.reader import Input, StudyError
from mdo.study.study import Study, load_study, study_from_dict

__all__ = ["Input", "Study", "StudyError", "load_study", "study_from_dict"]
