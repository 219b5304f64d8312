"""A study: everything that one file says, checked, in SI units."""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from mdo.disciplines.levels import Fidelity
from mdo.study.analyses import Analysis
from mdo.study.bench import (
    bench_cases,
    bench_levels,
    bench_loads,
    drop_inputs_of_vehicles,
    read_bench,
    stands_for_vehicle,
)
from mdo.study.case_table import with_case_table
from mdo.study.cases import Case
from mdo.study.fidelity import check_table, read_fidelity
from mdo.study.flight_state import check_flight, check_panels_apart
from mdo.study.load_table import LoadTable, vehicle_loads
from mdo.study.read_cases import read_cases
from mdo.study.read_design import read_design
from mdo.study.read_sections import (
    read_actuator,
    read_analysis,
    read_assumptions,
    read_head,
    read_requirements,
    read_supply,
)
from mdo.study.read_vehicle import read_vehicle
from mdo.study.reader import Input, Reader, StudyError
from mdo.study.sections import Actuator, Bench, Design, Requirements, Supply, Vehicle
from mdo.study.text import FileError, one_line, small_text, toml_fault, too_deep
from mdo.study.variation import vary

SECTIONS = (
    "study", "vehicle", "bench", "supply", "requirements", "case", "actuator", "fidelity", "design",
    "assumptions", "analysis",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Study:
    """A checked study; all numbers in SI units.

    Attributes
    ----------
    path
        The file, or None for a study made in Python.
    text, hash
        Text that the study was read from, and its SHA-256.
    vehicle, bench
        The vehicle; of a bench, what stands for it in the model.
    fidelity
        Level of each discipline in the coupled model, and those that verify it.
    assumptions
        Values by group (``aero``, ``thermal``, ...) and name.
    inputs
        Every resolved input with unit and origin.
    warnings
        What looks wrong but does not stop the study.
    """

    path: Path | None
    text: str
    hash: str
    name: str
    title: str
    description: str
    seed: int
    analyses: tuple[str, ...]
    vehicle: Vehicle
    bench: Bench | None
    supply: Supply
    requirements: Requirements
    cases: tuple[Case, ...]
    actuator: Actuator
    fidelity: Fidelity
    design: Design
    assumptions: Mapping[str, Mapping[str, float]]
    analysis: Analysis
    load_table: LoadTable | None
    inputs: tuple[Input, ...]
    warnings: tuple[str, ...]
    content: Mapping[str, Any]
    folder: Path

    def with_values(self, changes: Mapping[str, object]) -> Study:
        """Return this study with fields changed, checked anew.

        Parameters
        ----------
        changes
            Values as in a study file by the path of their field, such as
            ``{"requirements.fold_time": "90 s", "case.stow_wind.load_factor": 1.2}``.

        Raises
        ------
        StudyError
            With all problems of the changed study.
        """
        source = str(self.path) if self.path else "study"
        content = vary(self.content, changes, source)
        text = json.dumps(content, sort_keys=True, default=str)
        return _study(content, text, source, self.path, self.folder)


def load_study(path: str | Path) -> Study:
    """Read and check a study file.

    Raises
    ------
    StudyError
        With all problems of the file.
    """
    path = Path(path)
    source = one_line(path)
    try:
        text = small_text(path, "a study file", pipes=True)
        return _study(_parsed(text), text, source, path, path.parent)
    except FileError as fault:
        raise StudyError([f"{source}: {fault}"]) from None


def _parsed(text: str) -> dict[str, Any]:
    """Return the content of the text of a study.

    Raises
    ------
    FileError
        If there is none to be had.
    """
    sections = f"expected the sections {', '.join(SECTIONS)}"
    if not text.strip():
        raise FileError(f"empty, {sections}")
    deep = too_deep(text)
    if deep:
        raise FileError(f"nested too deeply at line {deep}, expected keys of few parts")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise FileError(f"nested too deeply, {sections}") from None
    except ValueError as error:
        raise FileError(f"not TOML: {toml_fault(text, error)}, expected a study file") from None


def study_from_dict(content: Mapping[str, Any], *, folder: str | Path = ".") -> Study:
    """Check a study given as nested dictionaries, as ``tomllib`` would read them from a file.

    Parameters
    ----------
    content
        Sections and fields of a study; quantities as text with their unit.
    folder
        Where the paths that the study names (a card, a table) count from.

    Raises
    ------
    StudyError
        With all problems of the study.
    """
    if not isinstance(content, Mapping):
        raise StudyError([f"study: wrong type, got {type(content).__name__}, expected a dict"])
    try:
        text = json.dumps(content, sort_keys=True)
    except (TypeError, ValueError, RecursionError) as error:
        raise StudyError([f"study: not plain data ({error}), expected text and numbers"]) from None
    return _study(deepcopy(dict(content)), text, "study", None, Path(folder))


def _study(
    content: Mapping[str, Any], text: str, source: str, path: Path | None, folder: Path
) -> Study:
    """Check all sections and build the study.

    Raises
    ------
    StudyError
        With all problems of the study.
    """
    reader = Reader(source)
    given = with_case_table(reader, content, folder)
    if given != content:  # the study is kept whole: with the rows of its table
        content, text = given, json.dumps(given, sort_keys=True, default=str)
    reader.unknown(content, "", SECTIONS)
    head = read_head(reader, content.get("study", {}))
    on_bench = "bench" in content
    bench = read_bench(reader, content) if on_bench else {}
    vehicle = {} if on_bench else read_vehicle(reader, content.get("vehicle", {}))
    supply = read_supply(reader, content.get("supply", {}))
    requirements = read_requirements(reader, content.get("requirements", {}))
    actuator = read_actuator(reader, content.get("actuator", {}), folder)
    fidelity = read_fidelity(reader, content.get("fidelity", {}))
    tables = content.get("case", [])
    if on_bench:
        fidelity, tables = bench_levels(reader, content, fidelity), bench_cases(reader, tables)
    else:
        check_table(reader, content.get("actuator"), fidelity)
    cases = read_cases(reader, tables, requirements, actuator)
    check_flight(reader, vehicle, cases)
    check_panels_apart(reader, vehicle, cases)
    design = read_design(reader, content.get("design", {}), actuator)
    assumptions = read_assumptions(reader, content.get("assumptions", {}))
    options = read_analysis(reader, content.get("analysis", {}), folder)
    if on_bench:
        loads = bench_loads(reader, bench, folder, cases)
        drop_inputs_of_vehicles(reader)
    else:
        levels = fidelity.optimise.hinge_moment, fidelity.verify.get("hinge_moment")
        name = actuator.get("table") if "table" in levels else None
        loads = vehicle_loads(reader, tables, cases, name, folder)
    if reader.problems:
        raise StudyError(reader.problems)
    if on_bench:
        vehicle = stands_for_vehicle(bench)
        requirements |= {name: bench[name] for name in ("envelope_height", "envelope_length")}
    return Study(
        path=path,
        text=text,
        hash=hashlib.sha256(text.encode()).hexdigest(),
        **head,
        vehicle=Vehicle(**vehicle),
        bench=Bench(**bench) if on_bench else None,
        supply=Supply(**supply),
        requirements=Requirements(**requirements),
        cases=tuple(Case(**own, return_case=Case(**back) if back else None) for own, back in cases),
        actuator=Actuator(**actuator),
        fidelity=fidelity,
        design=Design(**design),
        assumptions=assumptions,
        analysis=Analysis(**options),
        load_table=loads,
        inputs=tuple(reader.inputs.values()),
        warnings=tuple(reader.warnings),
        content=content,
        folder=folder,
    )
