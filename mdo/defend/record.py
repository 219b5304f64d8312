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
import os
from collections.abc import Callable, Iterator, Mapping
from copy import deepcopy
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

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
    optimum, fixed = appraisal.optimum, appraisal.problem.fixed
    attempts = [] if optimum is None else [_written(attempt) for attempt in optimum.attempts]
    return {
        "origin": appraisal.origin,
        "design": _plain(appraisal.x),
        "optimum": None if optimum is None else _written(optimum) | {"attempts": attempts},
        "values": _numbers(appraisal.values),
        "outer_stress_factor": _plain(_legs(appraisal.problem).outer_stress_factor),
        "path": {name: _plain(appraisal.known[name]) for name in PATH},
        "fixed": None if fixed is None else fixed._asdict(),
        "verification": _verification_written(appraisal.verification),
    }


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
    path = {name: _array(content["path"][name]) for name in PATH}
    legs = known["legs"]._replace(outer_stress_factor=_array(content["outer_stress_factor"]))
    if not _same({**path, **legs._asdict()}, {**known, **known["legs"]._asdict()}):  # fed back
        problem = problem.with_parameters({**known, **path, "legs": legs})
    if content["fixed"] is not None:
        problem = problem.fixing(Fixed(**content["fixed"]))
    optimum = content["optimum"]
    return Appraisal(
        kind=kind,
        problem=problem,
        x=_array(content["design"]),
        values={name: _array(value) for name, value in content["values"].items()},
        optimum=None if optimum is None else _optimum(problem, optimum),
        origin=str(content["origin"]),
        verification=_verification_read(content["verification"]),
    )


def _same(some: Mapping[str, Any], others: Mapping[str, Any]) -> bool:
    return all(np.array_equal(value, others[name]) for name, value in some.items())


def _legs(problem: DesignProblem) -> Any:
    """Legs of the model, those that fill up to a size included."""
    return problem.assembled.parameters["legs"]


def _numbers(values: Mapping[str, Any]) -> dict[str, Any]:
    """Arrays by name as JSON."""
    return {name: _plain(np.asarray(array, dtype=float)) for name, array in sorted(values.items())}


def _arrays(content: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    """Arrays by name from JSON."""
    return ((name, _array(part)) for name, part in content.items())


def _verification_written(found: Verification | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "march": _numbers(found.march._asdict()),
        "driven": found.driven.tolist(),
        "ratio": _plain(found.ratio),
        "drag_factor": _plain(found.drag_factor),
        "strain": _plain(found.strain),
        "values": _numbers(found.values),
        "masses": list(found.masses),
        "kept_back": found.kept_back,
    }


def _verification_read(content: Mapping[str, Any] | None) -> Verification | None:
    if content is None:
        return None
    return Verification(
        march=MarchedLeg(**dict(_arrays(content["march"]))),
        driven=np.asarray(content["driven"], dtype=bool),
        ratio=_array(content["ratio"]),
        drag_factor=_array(content["drag_factor"]),
        strain=_array(content["strain"]),
        values=dict(_arrays(content["values"])),
        masses=tuple(content["masses"]),
        kept_back=content["kept_back"],
    )


def _optimum(problem: DesignProblem, content: Mapping[str, Any]) -> Optimum:
    attempts = tuple(Attempt(**_read(Attempt, attempt)) for attempt in content["attempts"])
    return Optimum(problem=problem, attempts=attempts, **_read(Optimum, content))


def _written(result: Optimum | Attempt) -> dict[str, Any]:
    """Fields of an optimum or an attempt as JSON, those of :data:`KINDS`."""
    return {name: _plain(getattr(result, name)) for name in _stored(type(result))}


def _read(kind: type[Optimum] | type[Attempt], content: Mapping[str, Any]) -> dict[str, Any]:
    """The same fields from JSON."""
    return {name: KINDS[name](content[name]) for name in _stored(kind)}


def _stored(kind: type[Optimum] | type[Attempt]) -> list[str]:
    return [field.name for field in fields(kind) if field.name in KINDS]


def _plain(value: Any) -> Any:
    """Nested lists of numbers and words; a number that is not finite as a word."""
    value = value.tolist() if isinstance(value, np.ndarray | np.generic) else value
    if isinstance(value, list):
        return [_plain(entry) for entry in value]
    return str(value) if isinstance(value, float) and not math.isfinite(value) else value


def _array(value: Any) -> NDArray[np.float64]:
    """Numbers and words of numbers as an array."""
    return np.asarray(value, dtype=float)


def _places(value: Any) -> NDArray[np.intp]:
    return np.array(value, dtype=np.intp)


# How the fields of an optimum and of an attempt are read again.
KINDS: dict[str, Callable[[Any], Any]] = {
    "feasible": bool, "mass": float, "violation": float, "kkt_residual": float,
    "design": _array, "multipliers": _array, "active": _places, "kept": _places,
    "blocked": _places, "iterations": int, "converged": bool, "message": str,
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
    content = study_content(text)
    folder, there = _put_aside(files, aside)
    moved = study_from_dict(_renamed(content, there), folder=folder)
    back = {new: old for old, new in there.items()}
    inputs = tuple(
        replace(entry, value=back[entry.value])
        if isinstance(entry.value, str) and entry.value in back
        else entry
        for entry in moved.inputs
    )
    study = replace(
        moved,
        path=Path(file) if file else None,
        text=text,
        hash=hashlib.sha256(text.encode()).hexdigest(),
        inputs=inputs,
    )
    return make_problem(study)


def _put_aside(files: Mapping[str, str], aside: Path) -> tuple[Path, dict[str, str]]:
    """Write files as the study names them from a folder; returns it, and names that had to change.

    The folder lies as deep as the names climb, so that nothing is written outside. A name that
    counts from the root of a disk gets a new one that ends as it does.
    """
    climbs = max((Path(name).parts.count("..") for name in files), default=0)
    folder = aside.joinpath(*["study"] * (climbs + 1))
    folder.mkdir(parents=True)
    names = {}
    for number, (name, text) in enumerate(files.items()):
        own = name
        if Path(name).anchor:
            own = names[name] = f"from-root-{number}/{Path(name).name}"
        path = Path(os.path.normpath(folder / own))
        if not path.is_relative_to(aside):
            raise ValueError(f"a file outside of the study: {name}")
        path.parent.mkdir(parents=True, exist_ok=True)
        data = text.encode()
        path.write_bytes(base64.b64decode(data) if own.lower().endswith(WORKBOOK) else data)
        for parent in Path(own).parents:  # what the name passes through on its way up
            (folder / parent).mkdir(parents=True, exist_ok=True)
    return folder, names


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
