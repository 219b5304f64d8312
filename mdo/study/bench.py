"""``[bench]``: one assembly on a bench in place of a vehicle, with the moments that load it.

The model knows a vehicle; a bench is one whose panel weighs nothing, is moved by no air and has the
inertia that the study gives. Its room is a box, its moments a table, and nothing is there twice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from mdo.data_files import toml_beside
from mdo.disciplines.levels import Fidelity
from mdo.study.load_table import Cases, LoadTable, read_load_table, same_for_all
from mdo.study.part import Part
from mdo.study.read_vehicle import fill_structure
from mdo.study.reader import Place, Reader
from mdo.study.sections import Bench, Breakpoint
from mdo.study.text import file_name

PATH = "bench"
_DATA = toml_beside(__file__)
OF_VEHICLES, _AERO = tuple(_DATA["of_vehicles"]), tuple(_DATA["aero"])
_PLATE: dict[str, Any] = _DATA["plate"]


def read_bench(reader: Reader, content: Mapping[str, Any]) -> dict[str, Any]:
    """Return the values of ``[bench]``; what only a vehicle has must not stand beside it."""
    if "vehicle" in content:
        reader.problem(PATH, "contradiction, got [bench] beside [vehicle], expected one of them")
    bench = Part.read(reader, Bench, content[PATH], PATH)
    if not bench.values:
        return {}
    bench.only_one(*Bench.one_of)
    fill_structure(bench)
    names = ("envelope_height", "envelope_length")
    for section, fields in (("requirements", names), ("actuator", ("table",))):
        given = content.get(section)
        if isinstance(given, Mapping):
            Part(reader, section, given).not_allowed(fields, "beside [bench] (it has its own)")
    return bench.values


def bench_levels(reader: Reader, content: Mapping[str, Any], levels: Fidelity) -> Fidelity:
    """Levels of a bench: its hinge moments are a table."""
    given = content.get("fidelity")
    chosen = given.get("optimise") if isinstance(given, Mapping) else None
    if isinstance(chosen, Mapping) and chosen.get("hinge_moment", "table") != "table":
        Part(reader, "fidelity.optimise", chosen).contradiction(
            "hinge_moment", "beside [bench]",
            'none (its moments are those of [bench], level "table")',
        )  # fmt: skip
    return levels._replace(optimise=levels.optimise._replace(hinge_moment="table"))


def bench_cases(reader: Reader, given: object) -> object:
    """Cases as they are read: on a bench nothing flies, so those fields are errors."""
    if not isinstance(given, list | tuple) or not all(isinstance(one, Mapping) for one in given):
        return given
    tables = []
    for number, case in enumerate(given, 1):
        path, back = f"case.{case.get('id', f'[{number}]')}", case.get("return")
        own = _of_a_bench(Part(reader, path, case)) | {"location": "deck"}
        if isinstance(back, Mapping):
            own["return"] = _of_a_bench(Part(reader, f"{path}.return", back))
        tables.append(own)
    return tables


def _of_a_bench(case: Part) -> dict[str, Any]:
    """Fields of a case but for those that only a vehicle has; they are errors."""
    case.not_allowed(OF_VEHICLES, "beside [bench] (the moments say what loads it)")
    return {key: value for key, value in case.given.items() if key not in OF_VEHICLES}


def bench_loads(
    reader: Reader, values: Mapping[str, Any], folder: Path, cases: Cases
) -> LoadTable | None:
    """Moments of every leg, from the file of the study or a table beside it."""
    if values.get("table"):
        return read_load_table(
            Place(reader, f"{PATH}.table"), folder / file_name(values["table"]), cases
        )
    points: Sequence[tuple[float, float]] = values.get("moments") or ()
    if not points:
        return None
    place = Place(reader, f"{PATH}.moments")
    repeated = len({angle for angle, _ in points}) < len(points)
    if repeated:
        place.problem("an angle given twice, expected each once")
    return None if repeated else same_for_all(place, points, cases)


def stands_for_vehicle(bench: Mapping[str, Any]) -> dict[str, Any]:
    """Values of the vehicle that the model sees: a box at the hinge, a plate without weight."""
    edges = [
        Breakpoint(station=at, leading_edge=0.0, chord=1.0, twist=0.0, thickness_ratio=0.1)
        for at in (0.0, 2.0)
    ]
    return _PLATE | {
        "name": bench["name"],
        "wing": tuple(edges),
        "reference_area": 4.0,
        "panel_inertia": bench["inertia"],
        "seal_moment": bench["friction_moment"],
        **{name: bench[name] for name in
           ("structure", "adjacent_temperature_limit", "structure_gap")},
    }  # fmt: skip


def drop_inputs_of_vehicles(reader: Reader) -> None:
    """Leave out of the listed inputs what a bench does not have."""
    kept = {
        path: given
        for path, given in reader.inputs.items()
        if not (path.startswith("case.") and path.rpartition(".")[2] in OF_VEHICLES)
        and not (path.startswith("assumptions.aero.") and path.rpartition(".")[2] not in _AERO)
    }
    reader.inputs = kept
