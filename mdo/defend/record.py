"""An appraisal as JSON text and back, bit for bit: what a result keeps to be shown again.

The text holds what no table of a result does: design vector, every value of the model, how the
optimum was found, and the files of the user's own beside the study (alloy cards, loads). Floating
numbers are written in the shortest form that reads back to the same bits; those that are not finite
as the words ``nan``, ``inf``, ``-inf``.
"""

from __future__ import annotations

import base64
import contextlib
import hashlib
import json
import math
from collections.abc import Callable, Iterator, Mapping
from copy import deepcopy
from dataclasses import fields, is_dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from mdo.disciplines.tube.record import MarchedLeg
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.optimum import Attempt, Optimum
from mdo.optimise.problem import DesignProblem, Fixed, make_problem
from mdo.optimise.verify import Verification
from mdo.study.sheet import WORKBOOK
from mdo.study.study import Study, study_from_dict
from mdo.study.text import file_name, study_content

Record = TypeVar("Record", Attempt, Optimum, Verification)
FORMAT = 4  # 3 held no drag and strain of a path
PATH = ("path_strain", "path_drag_factor")


def record_text(appraisal: Appraisal) -> str:
    """Return what :func:`read_record` needs to make the same appraisal again, as JSON text.

    What was found about an optimum (``defence``) is not in it: tables hold that.
    """
    study = appraisal.study
    content = {
        "format": FORMAT,
        "kind": appraisal.kind,
        "study_file": study.path.name if study.path else None,
        "study_sha256": hashlib.sha256(study.text.encode()).hexdigest(),
        "files": _own_files(study),
        **_found(appraisal),
        "bound": None if appraisal.bound is None else _found(appraisal.bound),
    }
    return json.dumps(content, indent=0, allow_nan=False, ensure_ascii=False) + "\n"


def _found(appraisal: Appraisal) -> dict[str, Any]:
    """What was found of a study, as JSON."""
    problem = appraisal.problem
    found = {
        "origin": appraisal.origin,
        "design": appraisal.x,
        "optimum": appraisal.optimum,
        "values": appraisal.values,
        "outer_stress_factor": problem.assembled.parameters["legs"].outer_stress_factor,
        "path": {name: appraisal.known[name] for name in PATH},
        "fixed": problem.fixed,
        "verification": appraisal.verification,
    }
    return {name: _written(value) for name, value in found.items()}


def _written(value: Any) -> Any:
    """Records, arrays, numbers and words as JSON; numbers that are not finite as words.

    Of an optimum, an attempt and a verification those fields that :data:`READ` reads again.
    """
    if is_dataclass(value):
        names = (field.name for field in fields(value) if field.name in READ)
        return {name: _written(getattr(value, name)) for name in names}
    if isinstance(value, tuple) and hasattr(value, "_asdict"):
        value = value._asdict()
    if isinstance(value, Mapping):
        return {name: _written(entry) for name, entry in value.items()}
    if hasattr(value, "tolist"):  # an array, or a number of one
        value = value.tolist()
    if isinstance(value, list | tuple):
        return [_written(entry) for entry in value]
    return str(value) if isinstance(value, float) and not math.isfinite(value) else value


def read_record(text: str, study_text: str, aside: Path) -> Appraisal:
    """Make an appraisal again, without evaluating or optimising anything.

    Parameters
    ----------
    text : of :func:`record_text`
    study_text : text of the study that it belongs to
    aside : an empty folder that files of the user's own are put into; the appraisal needs it

    Raises
    ------
    ValueError
        If the text is no such record, or belongs to another study.
    """
    with _readable():
        content = _content(text, study_text)
        problem = _problem(study_text, content["study_file"], content["files"], aside)
        return _appraisal(content, problem)


def read_design(text: str, problem: DesignProblem) -> Appraisal:
    """Make an appraisal of a study that is there already; arguments as :func:`read_record`.

    Raises
    ------
    ValueError
        If the text is no such record, or belongs to another study.
    """
    with _readable():
        return _appraisal(_content(text, problem.study.text), problem)


@contextlib.contextmanager
def _readable() -> Iterator[None]:
    """Turn what goes wrong in the contents of a record into one kind of error."""
    try:
        yield
    except (KeyError, TypeError, AttributeError, RecursionError) as error:
        raise ValueError(f"{type(error).__name__}: {error}") from error


def _content(text: str, study_text: str) -> Any:
    """Content of a record of this format and of this study."""
    content = json.loads(text)
    if content["format"] != FORMAT:
        raise ValueError(f"records of format {content['format']!r}, this tool reads {FORMAT}")
    if content["study_sha256"] != hashlib.sha256(study_text.encode()).hexdigest():
        raise ValueError("it belongs to another text of the study")
    return content


def _appraisal(content: Mapping[str, Any], problem: DesignProblem) -> Appraisal:
    bound = content["bound"]
    found = _read_found(content, problem, str(content["kind"]))
    if bound is None:
        return found
    return replace(found, bound=_read_found(bound, problem, found.kind))


def _read_found(content: Mapping[str, Any], problem: DesignProblem, kind: str) -> Appraisal:
    """Appraisal of what was found, of the problem of its study."""
    known = problem.assembled.parameters
    path = _arrays(content["path"])
    factor = _array(content["outer_stress_factor"])
    own = (known["legs"].outer_stress_factor, *(known[name] for name in path))
    if not all(map(np.array_equal, (factor, *path.values()), own)):
        legs = known["legs"]._replace(outer_stress_factor=factor)  # fed back
        problem = problem.with_parameters({**known, **path, "legs": legs})
    if content["fixed"] is not None:
        problem = problem.fixing(Fixed(**content["fixed"]))
    optimum, verification = content["optimum"], content["verification"]
    return Appraisal(
        kind=kind,
        problem=problem,
        x=_array(content["design"]),
        values=_arrays(content["values"]),
        optimum=None if optimum is None else _read(Optimum, optimum, problem=problem),
        origin=str(content["origin"]),
        verification=None if verification is None else _read(Verification, verification),
    )


def _read(kind: type[Record], content: Mapping[str, Any], **others: Any) -> Record:
    """Record from the fields that :func:`_written` keeps of it, and others."""
    names = (field.name for field in fields(kind) if field.name in READ)
    return kind(**{name: READ[name](content[name]) for name in names}, **others)


def _array(value: Any) -> NDArray[np.float64]:
    """Numbers and words of numbers as an array."""
    return np.asarray(value, dtype=float)


def _arrays(content: Mapping[str, Any]) -> dict[str, Any]:
    """Arrays by name."""
    return {name: _array(part) for name, part in content.items()}


def _places(value: Any) -> NDArray[np.intp]:
    return np.array(value, dtype=np.intp)


# How the fields of an optimum, an attempt and a verification are read again.
READ: dict[str, Callable[[Any], Any]] = {
    "feasible": bool, "mass": float, "violation": float, "kkt_residual": float,
    "design": _array, "multipliers": _array, "active": _places, "kept": _places,
    "blocked": _places, "iterations": int, "converged": bool, "message": str,
    "attempts": lambda attempts: tuple(_read(Attempt, each) for each in attempts),
    "march": lambda march: MarchedLeg(**_arrays(march)), "driven": partial(np.asarray, dtype=bool),
    "ratio": _array, "drag_factor": _array, "strain": _array, "values": _arrays,
    "masses": tuple, "kept_back": bool,
}  # fmt: skip


TABLES = ("actuator", "bench")  # sections that may name a table of loads

# ---- the study, with the files of the user's own that it names


def _named_files(content: Mapping[str, Any]) -> list[str]:
    """Files that a study names: alloy cards by their path, and the table of loads."""
    actuator = content.get("actuator", {})
    alloys = [actuator.get("alloy"), *_alloy_choices(content)]
    # a card is named by its path: it ends as a file or has a folder
    named = [name for name in alloys if name and (name.endswith(".toml") or set("/\\") & set(name))]
    tables = [content.get(section, {}).get("table") for section in TABLES]
    return list(dict.fromkeys([*named, *filter(None, tables)]))


def _alloy_choices(content: Mapping[str, Any]) -> Any:
    choices = content.get("analysis", {}).get("defence", {}).get("choices", {})
    return choices.get("alloy", [])


def _own_files(study: Study) -> dict[str, str]:
    """Text of every file of the user's own, by its name in the study."""
    return {
        name: (base64.b64encode(data) if name.lower().endswith(WORKBOOK) else data).decode("utf-8")
        for name in _named_files(study.content)
        for data in [(study.folder / file_name(name)).read_bytes()]
    }


def _problem(text: str, file: str | None, files: Mapping[str, str], aside: Path) -> DesignProblem:
    """Problem of a study from its text, its own files put into a folder of their own."""
    content, names = study_content(text), _put_aside(files, aside)
    moved = study_from_dict(_renamed(content, names), folder=aside)
    back = {new: old for old, new in names.items()}
    inputs = tuple(
        replace(entry, value=back.get(entry.value, entry.value))
        if isinstance(entry.value, str)
        else entry
        for entry in moved.inputs
    )
    digest = hashlib.sha256(text.encode()).hexdigest()
    path = Path(file) if file else None
    return make_problem(replace(moved, path=path, text=text, hash=digest, inputs=inputs))


def _put_aside(files: Mapping[str, str], aside: Path) -> dict[str, str]:
    """Write files of a study into a folder, each into one of its own; returns their new names.

    They end as they did; what a name climbs or counts from the root of a disk stays outside.
    """
    names = {}
    for number, (name, text) in enumerate(files.items()):
        names[name] = f"{number}/{Path(file_name(name)).name}"
        path = aside / names[name]
        path.parent.mkdir(parents=True)
        data = text.encode()
        path.write_bytes(base64.b64decode(data) if name.lower().endswith(WORKBOOK) else data)
    return names


def _renamed(content: Mapping[str, Any], names: Mapping[str, str]) -> dict[str, Any]:
    """Content of a study with the files that it names under their new names."""
    changed: dict[str, Any] = deepcopy(dict(content))
    alloys = _alloy_choices(changed)
    for section, field in (("actuator", "alloy"), *((name, "table") for name in TABLES)):
        table = changed.get(section, {})
        if table.get(field) in names:
            table[field] = names[table[field]]
    alloys[:] = [names.get(alloy, alloy) for alloy in alloys]
    return changed
