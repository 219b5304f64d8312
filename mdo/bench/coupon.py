"""What a laboratory would read off a coupon, by the names of the open test standards.

Readings by tangents, as in ASTM E3097-23 (uniaxial constant-force thermal cycling) and in the
standard on constant-torque thermal cycling (probably ASTM E3414-23, its number is not certain).
Neither was read: names follow abstracts, the tangents are from memory of such standards.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd

from mdo.bench.log_cells import Numbers
from mdo.defend.sensitivity.measurement_plan import METHODS
from mdo.disciplines.records import Alloy
from mdo.model.coupon import Courses, constant_force, constant_torque, isothermal_twist
from mdo.quantities import QUANTITIES

ROOT3 = 3.0**0.5
LEVELS = 5  # stresses of a test
BASE = 0.08  # of a branch at either end, through which its base line goes
ROOM, BEYOND = 25.0, 1.2  # [K] beyond, and stress at the outer fibre over the mean one; judgement
LEAST_WORTH = 1e-3  # [kg] below which no measurement is ordered
MOVES = 1e-4  # strain that a cycle has to move for its temperatures to be read
TORQUE, FORCE, TWIST = "constant torque", "constant force", "isothermal torque and twist"
# Methods of the test plan that each coupon is: the temperatures follow from lines to zero stress.
SETTLES = {
    TORQUE: ("torque_cycles", "calorimetry"),
    FORCE: ("force_cycles",),
    TWIST: ("cold_twist", "torsion_modulus"),
}
WORTH = {  # column, and the table and column of a stored result that it is of
    "stake": ("sensitivity", ""), "mass_worth": ("test_plan", "mass_worth"),
    "saved": ("assurance_inputs", "saved"),
}  # fmt: skip
TITLES = {
    TORQUE: "Constant-torque thermal cycling of a tube (probably ASTM E3414)",
    FORCE: "Constant-force thermal cycling of a bar (ASTM E3097)",
}


class Reading(NamedTuple):
    """What one thermal cycle is read as: temperatures [K], strains [1].

    Attributes
    ----------
    actuation_strain
        Of the cold coupon over the hot one, at the end of the cycle.
    residual_strain
        That the hot coupon gained in the cycle.
    """

    martensite_start: float
    martensite_finish: float
    austenite_start: float
    austenite_finish: float
    actuation_strain: float
    residual_strain: float

    @property
    def span(self) -> float:
        """Transformation span: austenite finish less martensite finish [K]."""
        return self.austenite_finish - self.martensite_finish

    @property
    def width(self) -> float:
        """Width of the hysteresis between the middles of both branches [K]."""
        return (
            self.austenite_start + self.austenite_finish
            - self.martensite_start - self.martensite_finish
        ) / 2.0  # fmt: skip


def read_cycle(path: Numbers, strain: Numbers) -> Reading:
    """Read a cycle that cools and heats again.

    Parameters
    ----------
    path, strain : temperature [K] and strain [1], hot to cold to hot, (N,)

    Returns
    -------
    Reading
        Temperatures are NaN where the cycle hardly moves.
    """
    turn = int(np.argmin(path))
    cooled, heated = slice(0, turn + 1), slice(turn, None)
    start, finish = _tangents(path[cooled], strain[cooled])
    back_finish, back_start = _tangents(path[heated][::-1], strain[heated][::-1])
    return Reading(
        start, finish, back_start, back_finish, float(strain[turn] - strain[-1]),
        float(strain[-1] - strain[0]),
    )  # fmt: skip


def _tangents(kelvin: Numbers, strain: Numbers) -> tuple[float, float]:
    """Temperatures where the steepest tangent meets the base lines of the hot and the cold end."""
    if np.ptp(strain) < MOVES:
        return float("nan"), float("nan")
    slope = np.gradient(strain, kelvin)
    at = int(np.argmax(np.abs(slope)))
    ends = max(2, int(BASE * len(kelvin)))
    met = []
    for base in (slice(0, ends), slice(-ends, None)):
        rise, level = np.polyfit(kelvin[base], strain[base], 1)
        met.append((level - strain[at] + slope[at] * kelvin[at]) / (slope[at] - rise))
    return float(met[0]), float(met[1])


def coupon_ends(alloy: Alloy, stress_max: float) -> tuple[float, float]:
    """Lower and upper cycle temperature [K] between which all of a tube transforms."""
    shift = ROOT3 * BEYOND * stress_max / np.asarray(alloy.austenite_slope * alloy.slope_factor)
    return float(np.asarray(alloy.martensite_finish) - ROOM), float(
        np.asarray(alloy.austenite_finish) + shift + ROOM
    )


def coupon_tables(alloy: Alloy, wall_ratio: float, stress_max: float) -> dict[str, pd.DataFrame]:
    """Tables of virtual coupon tests: readings, what a laboratory would make of them, courses.

    Parameters
    ----------
    alloy : card
    wall_ratio : wall over outer radius of the tubes [1]
    stress_max : largest mean shear stress of a tube [Pa]
    """
    ends = coupon_ends(alloy, stress_max)
    shear = stress_max * np.arange(1, LEVELS + 1) / LEVELS
    tests = {
        TORQUE: constant_torque(shear, ends, wall_ratio, alloy),
        FORCE: constant_force(ROOT3 * shear, ends, alloy),
    }
    twisted = isothermal_twist(np.array(ends), stress_max, ends[1], wall_ratio, alloy)
    readings = [
        {"test": name, "applied_stress": level, **read_cycle(course.path, strain)._asdict()}
        for name, course in tests.items()
        for level, strain in zip(course.level, course.strain, strict=True)
    ]
    frame = pd.DataFrame(readings)
    rows = [_made_of_it(name, frame[frame["test"] == name], alloy) for name in tests]
    courses = [_courses(name, course, "temperature") for name, course in tests.items()]
    return {
        "coupon_readings": frame,
        "coupon_card": pd.concat(rows, ignore_index=True),
        "coupon_cycles": pd.concat(courses, ignore_index=True),
        "coupon_twist": _courses(TWIST, twisted, "applied_stress"),
    }


def coupon_worth(stored: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Inputs that each coupon test settles and the kilograms of them, the most first.

    Parameters
    ----------
    stored : tables of results of the same study: ``sensitivity`` and ``test_plan`` of a defence,
        ``assurance_inputs``; those that there are

    Returns
    -------
    DataFrame
        test, input, meaning; stake: optimum mass at one end of the range less that at the other;
        mass_worth: off the 95 % point of the mass by the test plan; saved: at the wanted
        probability [kg], NaN where no stored result says it. Empty without results.
    """
    known: dict[str, pd.DataFrame] = {
        name: frame.set_index("input") for name, frame in stored.items()
    }
    if "sensitivity" in known:
        ends = known["sensitivity"]
        ends["stake"] = (ends["optimum_mass_high"] - ends["optimum_mass_low"]).abs()
    rows = []
    for test, methods in SETTLES.items():
        for field in (f"alloy.{one}" for method in methods for one in METHODS[method].fields):
            of = {
                column: float(known[table].loc[field, own or column])
                for column, (table, own) in WORTH.items()
                if table in known and field in known[table].index
            }
            if max(map(abs, of.values()), default=0.0) > LEAST_WORTH:
                meaning = QUANTITIES[field.partition(".")[2]].meaning
                rows.append({"test": test, "input": field, "meaning": meaning, **of})
    columns = ["test", "input", "meaning", *WORTH]
    found = pd.DataFrame(rows, columns=columns).astype(dict.fromkeys(WORTH, float))
    return found.sort_values(["stake", "saved"], ascending=False, kind="stable", ignore_index=True)


def _made_of_it(name: str, readings: pd.DataFrame, alloy: Alloy) -> pd.DataFrame:
    """Zero-stress temperatures and slopes by straight lines through readings, beside the card."""
    stress = readings["applied_stress"].to_numpy() * (ROOT3 if name == TORQUE else 1.0)
    rows = []
    for phase in ("martensite", "austenite"):
        for end in ("start", "finish"):
            field = f"{phase}_{end}"
            kelvin = readings[field].to_numpy()
            known = np.isfinite(kelvin)
            if known.sum() < 2:
                continue
            per_stress, zero = np.polyfit(stress[known], kelvin[known], 1)
            rows.append((name, field, "K", zero, getattr(alloy, field)))
            slope = f"{phase}_slope"
            own = getattr(alloy, slope)
            rows.append((name, f"{slope} of {end}", "Pa/K", 1.0 / per_stress, own))
    return pd.DataFrame(rows, columns=["test", "field", "unit", "read", "of_card"])


def _courses(name: str, courses: Courses, moved: str) -> pd.DataFrame:
    """Courses as lines of a table."""
    fixed = "applied_stress" if moved == "temperature" else "temperature"
    count = len(courses.path)
    return pd.DataFrame(
        {
            "test": name,
            fixed: np.repeat(courses.level, count),
            moved: np.tile(courses.path, len(courses.level)),
            "coupon_strain": courses.strain.ravel(),
        }
    )
