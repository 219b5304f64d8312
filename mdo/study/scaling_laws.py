r"""Laws by which a vehicle is scaled, and the fields of a study that follow them.

A length is ``size`` times that of the given vehicle, anything else ``size`` to an exponent:

=================  =======  ======  ================
quantity           dynamic  mach    constant_loading
=================  =======  ======  ================
length             1        1       1
mass               3        3       2
speed              1/2      0       0
load factor        0        -1      0
dynamic pressure   1        0       0
hinge moment       4        3       3
time               1/2      1       1
power              7/2      2       2
rate               -1/2     -1      -1
acceleration       -1       -2      -1
inertia            5        5       4
=================  =======  ======  ================

``dynamic``: Froude's number is kept, so gravity, inertia and air all give moments as size^4; Mach
number is not kept. ``mach``: Mach number and altitude are kept, and the structure is the same one
in another size, so the mass goes as size^3; the lift coefficient is kept by a load factor that
goes as 1/size, because lift at one and the same load factor would need a mass as size^2.
``constant_loading``: that mass, so that wing loading, speed and load factor are all kept.

The rows of the three laws are those of the reference table of dimensional analysis (reference
thermal-power-mass, section 5). In terms of the vehicle's mass the moment goes as m^(4/3), m and
m^(3/2). The angular acceleration is that of a moment of the law over an inertia of the law.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from mdo.data_files import toml_beside
from mdo.study.reader import StudyError
from mdo.study.study import Study
from mdo.study.units import as_written


class Law(NamedTuple):
    """Exponents of the size, by kind of quantity."""

    title: str
    mass: float
    speed: float
    load_factor: float
    moment: float
    time: float
    power: float
    rate: float
    acceleration: float
    inertia: float
    length: float = 1.0
    area: float = 2.0


_DATA = toml_beside(__file__)
LAWS = {name: Law(**entry) for name, entry in _DATA["law"].items()}
# Every field of a study that follows the law, and the kind of quantity that it is.
FIELDS = {f"{section}.{name}": kind for section, fields in _DATA["field"].items()
          for name, kind in fields.items()}  # fmt: skip


def scaled(study: Study, law: str, size: float, *, cases: bool = True) -> Study:
    """Study of the vehicle scaled by a law, checked anew.

    Parameters
    ----------
    study : of the given vehicle
    law : a key of :data:`LAWS`
    size : length over that of the given vehicle
    cases : scale the states of the cases too

    Raises
    ------
    StudyError
        If there is no such law or size, if a scaled number is none that a study may have, or if
        the hinge moment is a table, which belongs to one size.
    """
    source = str(study.path) if study.path else "study"
    problems = []
    if law not in LAWS:
        problems.append(f"{source}: law: got {law}, expected one of {', '.join(LAWS)}")
    if not 0.0 < size < float("inf"):
        problems.append(f"{source}: size: got {size}, expected a number above zero")
    if study.bench:
        problems.append(f"{source}: bench: has one size, expected a study with [vehicle]")
    elif study.fidelity.optimise.hinge_moment == "table":
        problems.append(
            f"{source}: fidelity.optimise.hinge_moment: got table, which holds for one size; "
            "expected lattice or strip"
        )
    if problems:
        raise StudyError(problems)
    if size == 1.0:
        return study
    exponents = LAWS[law]
    changes = {}
    for one in following(study, cases=cases):
        scale = size ** getattr(exponents, one.kind)
        changes[one.path] = as_written(one.value * scale, one.unit)
    return study.with_values(changes)


def eased(study: Study, share: float) -> Study:
    """Study at a share of its load factors in flight, at most one.

    Another size at the speeds of the given one might need more lift than a wing has; the states of
    the pure family follow the law later.
    """
    if share >= 1.0:
        return study
    factors = [one for one in following(study) if one.kind == "load_factor"]
    return study.with_values({one.path: as_written(share * one.value, one.unit) for one in factors})


class Follower(NamedTuple):
    """Field that follows the laws: its number in SI, and the kind of quantity that it is."""

    path: str
    value: float
    unit: str
    kind: str


def following(study: Study, *, cases: bool = True) -> list[Follower]:
    """Fields of a study that follow the laws, where they hold a number.

    Parameters
    ----------
    study : of the given vehicle
    cases : with the states of the cases
    """
    inputs = {one.path: one for one in study.inputs}
    kinds = {
        path: kind
        for path, kind in FIELDS.items()
        if path in inputs and (inputs[path].origin == "file" or path not in _DATA["derived"])
    }
    for number, _ in enumerate(study.vehicle.wing, 1):
        kinds |= {f"vehicle.wing[{number}].{name}": kind for name, kind in _DATA["wing"].items()}
    kinds |= dict(_case_fields(study)) if cases else {}
    found = []
    for path, kind in kinds.items():
        value = inputs[path].value
        if isinstance(value, int | float):
            found.append(Follower(path, float(value), inputs[path].unit, kind))
    return found


def _case_fields(study: Study) -> list[tuple[str, str]]:
    """Paths of the fields of cases that follow the law: those given, and every load factor."""
    found: list[tuple[str, str]] = []
    paths = {one.path: one for one in study.inputs}
    for case in study.cases:
        for at, state in ((f"case.{case.id}", case), (f"case.{case.id}.return", case.return_case)):
            fields: dict[str, Any] = dict(_DATA["case"])
            if state is not None and state.location == "air":
                fields |= {"load_factor": "load_factor", "side_load_factor": "load_factor"}
            for name, kind in fields.items():
                path = f"{at}.{name}"
                given = path in paths and paths[path].origin == "file"
                if given or (path in paths and kind == "load_factor"):
                    found.append((path, kind))
    return found
