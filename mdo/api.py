"""The interface for Python: what :mod:`mdo` offers at its top."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

import numpy as np

from mdo.defend.verdict import judge
from mdo.model.layout import DESIGN_SIZES, join_design
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.problem import make_problem
from mdo.run.analyses import Outcome, run_study
from mdo.run.design_analyses import appraise_design
from mdo.study.study import Study, load_study

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["build_problem", "choices", "evaluate", "judge", "load_study", "run"]


def evaluate(study: Study, design: Mapping[str, Any]) -> Appraisal:
    """Evaluate one design of a study.

    Parameters
    ----------
    study : from :func:`load_study`
    design : every design variable by name, SI units; per-set variables as (up, down)

    Raises
    ------
    ValueError
        If a design variable is missing, unknown, of another size or not a finite number.
    """
    unknown = sorted(set(design) - set(DESIGN_SIZES))
    missing = sorted(set(DESIGN_SIZES) - set(design))
    if unknown or missing:
        raise ValueError(
            f"design: unknown {unknown or 'none'}, missing {missing or 'none'}; expected "
            f"{', '.join(DESIGN_SIZES)}"
        )
    for name, size in DESIGN_SIZES.items():
        value = np.asarray(design[name], dtype=float)
        if value.size not in {1, size} or not np.isfinite(value).all():
            raise ValueError(
                f"design.{name}: got {design[name]!r}, expected {size} finite number(s)"
            )
    return appraise_design(make_problem(study), join_design(design), "design given from Python")


def choices(
    study: Study | str | Path, options: Mapping[str, Sequence[Any]], *, progress: Any = None
) -> pd.DataFrame:
    """Optimise every combination of some choices, each with what its own paths take.

    Nothing else of the defence is done; counts are free.

    Parameters
    ----------
    study : a study, or the path of its file
    options : values by field of ``[actuator]``, and of ``other_set``: the state in which every
        motion of a pair finds the set that does not drive
    progress : function that is told what is being done, one line at a time

    Returns
    -------
    DataFrame
        One line a combination, best first: status, verdict, mass [kg], longest times [s], peak
        power [W], what limits it or rules it out.

    Raises
    ------
    StudyError
        If a field is not a choice or has no values.
    """
    from mdo.defend.choices.study import find_choices
    from mdo.defend.choices.table import choices_table

    loaded = study if isinstance(study, Study) else load_study(study)
    found = find_choices(make_problem(loaded), options, progress or (lambda _: None), verified=True)
    return choices_table(found)


def run(
    study: Study | str | Path,
    *,
    results_root: str | Path | None = None,
    progress: Any = None,
    scheduler: str = "local",
    workers: int | None = None,
) -> Outcome:
    """Run every analysis of a study (or of the study file named).

    Parameters
    ----------
    study : a study, or the path of its file
    results_root : folder of results; None writes nothing
    progress : function that is told what is being done, one line at a time
    scheduler : who does the work of explorations: ``local`` processes (a script has to call this
        under ``if __name__ == "__main__":`` then), ``serial``, or the address of a Dask scheduler
    workers : local processes; one per core if None
    """
    loaded = study if isinstance(study, Study) else load_study(study)
    root = None if results_root is None else Path(results_root)
    return run_study(
        loaded, results_root=root, progress=progress, scheduler=scheduler, workers=workers
    )


def build_problem(study: Study, **options: Any) -> Any:
    """Set up an OpenMDAO problem of a study, see :mod:`mdo.optimise.openmdao_problem`."""
    from mdo.optimise.openmdao_problem import build_problem as build

    return build(study, **options)


class _Runner(ModuleType):
    """The package ``mdo.run``, which stands under the name of the function: called, it runs."""

    def __call__(self, study: Study | str | Path, **options: Any) -> Outcome:
        return run(study, **options)


sys.modules["mdo.run"].__class__ = _Runner
