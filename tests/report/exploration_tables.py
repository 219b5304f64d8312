"""Invented tables of explorations, to draw: demo numbers from made-up formulas, no result of a run.

Every function gives the tables of one kind in the form in which the analyses write them, SI units.
"""

from __future__ import annotations

import itertools
import math
from typing import NamedTuple

import numpy as np
import pandas as pd

Tables = dict[str, pd.DataFrame]
MARKUP = '"><img src=x onerror="console.error(1)"><script>console.error(2)</script>%{x}</b>'
WORD = "unbroken" * 30
HEAT = "Heater power within what a tube bears"
HEIGHT = "Bundle height within the envelope (stow_calm)"
TIME = "Fold time within its limit (flight_fold)"
TORQUE = "Available moment over required moment (stow_calm, fold)"
SLENDER = "Length over diameter of the tubes"
CONVERTER = "Peak power within the power granted"
RETURN = "Return time within its limit (flight_fold, return)"


def content(name: str, title: str, vehicle: str, description: str) -> dict[str, dict[str, str]]:
    """Content of a study, as far as a page prints it."""
    study = {"name": name, "title": title, "description": description}
    return {"study": study, "vehicle": {"name": vehicle}}


class Demo(NamedTuple):
    """An axis that was made up."""

    name: str
    title: str
    unit: str
    low: float
    high: float
    per: str
    step: float
    easier: int


AXES = (
    Demo("fold_time", "Fold time", "s", 50.0, 140.0, "s", 1.0, 1),
    Demo("torque_margin", "Torque margin", "1", 0.0, 0.5, "percent of margin", 0.01, -1),
    Demo("power_available", "Power granted", "W", 600.0, 2400.0, "kW", 1e3, 1),
    Demo("bay_hot", "Hottest bay", "K", 308.15, 343.15, "K", 1.0, -1),
    Demo("envelope_height", "Envelope height", "m", 0.02, 0.04, "mm", 1e-3, 1),
    Demo("flight_load_factor", "Load factor while folding in flight", "1", 0.8, 1.6,
         "0.1 of load factor", 0.1, -1),
)  # fmt: skip
CHOICES = ("geared, passive", "geared, blower")


def _shares(axes: tuple[Demo, ...], sample: np.ndarray) -> dict[str, np.ndarray]:
    """How hard each requirement is, 0 to 1; the middle for those that are no axis."""
    shares = {one.name: np.full(len(sample), 0.5) for one in AXES}
    for number, one in enumerate(axes):
        share = (sample[:, number] - one.low) / (one.high - one.low)
        shares[one.name] = 1.0 - share if one.easier > 0 else share
    return shares


def _mass(hard: dict[str, np.ndarray], blower: bool) -> tuple[np.ndarray, np.ndarray]:
    """Mass [kg] and least violation of an invented optimum."""
    time, power = hard["fold_time"], hard["power_available"]
    base = 8.0 * (1.0 + 0.9 * hard["torque_margin"] + 0.7 * hard["flight_load_factor"])
    base = base * (1.0 + 0.6 * time**2 + 0.4 * time * power + 0.15 * hard["envelope_height"])
    bay = 1.4 * hard["bay_hot"] ** 3 if not blower else 0.15 * hard["bay_hot"]
    mass = base * (1.0 + bay) + (1.6 if blower else 0.0)
    blocked = time + 0.9 * power + 0.3 * hard["torque_margin"] - (1.35 if blower else 1.2)
    return mass, np.maximum(0.4 * blocked, 0.0)


def _design(mass: np.ndarray, hard: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    ones = np.ones_like(mass)
    return {
        "tube_outer_radius": 2.6e-3 + 5e-5 * mass,
        "wall_ratio": 0.37 * ones,
        "tube_length": 0.14 + 0.02 * hard["envelope_height"],
        "tube_count.up": 0.35 * mass + hard["torque_margin"],
        "tube_count.down": 0.45 * mass + hard["flight_load_factor"],
        "operating_stress.up": 1.21e8 - 1e7 * hard["bay_hot"],
        "operating_stress.down": 1.29e8 - 1e7 * hard["bay_hot"],
        "gear_ratio": 0.51 + 0.1 * hard["envelope_height"],
        "pre_twist.up": 0.9 * ones,
        "pre_twist.down": 0.8 * ones,
        "heater_power.up": 180.0 + 260.0 * hard["fold_time"],
        "heater_power.down": 210.0 + 300.0 * hard["fold_time"],
        "hot_temperature": 470.0 + 10.0 * hard["torque_margin"],
        "insulation_thickness": 1e-3 + 2e-3 * hard["bay_hot"],
        "spring_moment": 0.0 * ones,
        "spring_rate": 0.0 * ones,
        "peak_power": 500.0 + 900.0 * hard["fold_time"],
        "sortie_energy": 2.4e5 * (1.0 + hard["fold_time"]),
        "bundle_length": 0.19 + 2e-3 * mass,
        "bundle_height": 0.024 + 1e-4 * mass,
        "fold_time_longest": 140.0 - 90.0 * hard["fold_time"],
        "return_time_longest": 300.0 + 200.0 * hard["bay_hot"],
    }


def _actives(hard: dict[str, np.ndarray]) -> list[str]:
    found = []
    for time, bay, power in zip(
        hard["fold_time"], hard["bay_hot"], hard["power_available"], strict=True
    ):
        rows = [TORQUE]
        rows += [TIME, HEAT] if time > 0.45 else [SLENDER]
        rows += [RETURN] if bay > 0.6 else []
        rows += [CONVERTER] if power > 0.7 else []
        found.append("; ".join(rows))
    return found


def map_tables(
    *, axes: int = 3, levels: int = 6, sample: int = 0, choices: bool = True, seed: int = 1
) -> Tables:
    """Map over the first axes: a full grid, or ``sample`` points spread at random."""
    used = AXES[:axes]
    if sample:
        unit = np.random.default_rng(seed).random((sample, axes))
    else:
        unit = np.array(list(itertools.product(np.linspace(0.0, 1.0, levels), repeat=axes)))
    values = np.array([one.low for one in used]) + unit * [one.high - one.low for one in used]
    hard = _shares(used, values)
    parts = []
    for blower in (False, True) if choices else (False,):
        mass, violation = _mass(hard, blower)
        feasible = violation <= 0.0
        part = pd.DataFrame({"point": np.arange(len(values))})
        for number, one in enumerate(used):
            part[one.name] = values[:, number]
        part["choice"] = CHOICES[int(blower)] if choices else ""
        part["status"] = np.where(feasible, "feasible", "infeasible")
        reason = np.where(hard["power_available"] > hard["fold_time"], CONVERTER, TIME)
        reason = np.where(violation > 0.25, HEIGHT, reason)
        part["reason"] = np.where(feasible, "", reason)
        part["system_mass"] = np.where(feasible, mass, np.nan)
        part["violation"] = violation
        part["kkt_residual"] = 1e-9
        for name, column in _design(mass, hard).items():
            part[name] = column
        part["active"] = _actives(hard)
        for one in used:
            moved = {**hard, one.name: hard[one.name] + 1e-3}
            slope = (_mass(moved, blower)[0] - mass) / 1e-3
            cost = -one.easier * slope / (one.high - one.low)
            part[f"cost.{one.name}"] = np.where(feasible, cost, np.nan)
            rise = (_mass(moved, blower)[1] - violation) / 1e-3
            harder = -one.easier * rise / (one.high - one.low)
            part[f"harder.{one.name}"] = np.where(feasible, np.nan, harder)
        parts.append(part)
    points = pd.concat(parts, ignore_index=True)
    if sample:  # the solver did not end everywhere
        lost = points.index % 97 == 5
        points.loc[lost, ["status", "reason"]] = ["not settled", "the solver did not end"]
        points.loc[lost, "system_mass"] = np.nan
    order = points.sort_values(["system_mass", "point"], kind="stable")
    best = order.drop_duplicates("point").sort_values("point")
    best = best[["point", "choice", "system_mass"]].reset_index(drop=True)
    best.loc[best["system_mass"].isna(), "choice"] = ""
    table = pd.DataFrame(used)
    table = table.rename(columns={"name": "axis"})
    built = pd.DataFrame(
        {"choice": points["choice"].unique(), "configuration": "opposed",
         "topology": "geared", "gear_lanes": 2,
         "levels": "invented", "lines": 'cooling = "blower"'}
    )  # fmt: skip
    fields = [(one.name, f"requirements.{one.name}", one.unit, one.low, one.high) for one in used]
    written = pd.DataFrame(fields, columns=["axis", "field", "unit", "low", "high"])
    return {
        "map_points": points, "map_axes": table, "map_best": best, "map_choices": built,
        "map_fields": written.assign(power=False),
    }  # fmt: skip


def with_dear(tables: Tables) -> Tables:
    """The same map with rows corrected to dear levels: a few points solved at them."""
    points = tables["map_points"].copy()
    good = np.flatnonzero(points["status"] == "feasible")
    mass = points["system_mass"].to_numpy()
    bound, dear, own = (
        0.004 * mass,
        np.full(len(points), "", dtype=object),
        np.full(len(mass), np.nan),
    )
    dear[good[::7]], own[good[::7]] = "solved dear", mass[good[::7]]
    dear[good[3::9]], own[good[3::9]] = "held out", 1.001 * mass[good[3::9]]
    own[good[3]] = 1.02 * mass[good[3]]  # outside
    bound[good[5]] = np.nan
    points = points.assign(mass_bound=bound, dear=dear, dear_mass=own)
    return {**tables, "map_points": points}


def all_infeasible(tables: Tables) -> Tables:
    """The same map with no feasible point."""
    points, best = tables["map_points"].copy(), tables["map_best"].copy()
    points["status"], points["reason"] = "infeasible", TIME
    numbers = ["system_mass", *(name for name in points if name.startswith("cost."))]
    points[numbers] = np.nan
    best["choice"], best["system_mass"] = "", np.nan
    return {**tables, "map_points": points, "map_best": best}


def front_tables(*, objectives: int = 2, points: int = 40) -> Tables:
    """Front of mass against fold time, and with three objectives against peak power as well."""
    if objectives == 2:
        share = np.linspace(0.0, 1.0, points)
        share = share[(share < 0.55) | (share > 0.68)]  # nothing between
        fold, power = 48.0 + 100.0 * share, 900.0 - 200.0 * share
    else:
        share = np.random.default_rng(3).random((points, 2))
        fold, power = 48.0 + 100.0 * share[:, 0], 650.0 + 900.0 * share[:, 1]
        share = share[:, 0]
    mass = 9.0 + 260.0 / (fold - 30.0) + 1500.0 / power + (fold < 105.0) * 0.8
    hard = {one.name: np.full(len(fold), 0.5) for one in AXES} | {"fold_time": 1.0 - share}
    table = pd.DataFrame({"front": "", "place": np.arange(len(fold))})
    table["system_mass"], table["fold_time"] = mass, fold
    if objectives == 3:
        table["peak_power"] = power
    for name, column in _design(mass, hard).items():
        if name not in table:
            table[name] = column
    table["active"], table["status"], table["reason"] = _actives(hard), "feasible", ""
    table["knee"] = np.arange(len(fold)) == int(np.argmin(np.abs(share - 0.2)))
    table["refined"] = (np.arange(len(fold)) % 5 == 0).astype(int)
    table["trade.fold_time"] = -260.0 / (fold - 30.0) ** 2
    names = [("system_mass", "Mass of the fold actuation", "kg"), ("fold_time", "Fold time", "s"),
             ("peak_power", "Peak power", "W")][:objectives]  # fmt: skip
    if objectives == 3:
        table["trade.peak_power"] = -1500.0 / power**2
    ends = [
        {"objective": name, "title": title, "unit": unit, "low": table[name].min(),
         "high": table[name].max()}
        for name, title, unit in names
    ]  # fmt: skip
    gaps = pd.DataFrame(columns=["front", "fold_time_from", "fold_time_to", "reason"])
    if objectives == 2:
        gaps.loc[0] = ["", 102.0, 116.5, HEIGHT]
    summary = pd.DataFrame(
        {"front": [""], "configuration": "opposed", "topology": "geared", "gear_lanes": 1}
    )
    return {
        "front_points": table, "front_objectives": pd.DataFrame(ends), "front_gaps": gaps,
        "front_summary": summary,
    }  # fmt: skip


def sweep_tables(*, rows: int = 5000, designs: int = 1_000_000) -> Tables:
    """Sample of a sweep over three requirements and five design variables."""
    rng = np.random.default_rng(7)
    sample = np.column_stack([rng.uniform(one.low, one.high, rows) for one in AXES[:3]])
    hard = _shares(AXES[:3], sample)
    mass, violation = _mass(hard, blower=False)
    mass = mass * rng.uniform(0.9, 1.3, rows)
    table = pd.DataFrame({"design": np.arange(rows) * (designs // max(rows, 1))})
    for number, one in enumerate(AXES[:3]):
        table[one.name] = sample[:, number]
    for name in ("tube_outer_radius", "tube_length", "tube_count.up", "heater_power.up",
                 "hot_temperature"):  # fmt: skip
        table[name] = _design(mass, hard)[name] * rng.uniform(0.9, 1.1, rows)
    table["system_mass"] = mass
    table["peak_power"] = 500.0 + 30.0 * mass
    table["heat_time_max"] = 40.0 + 60.0 * rng.random(rows)
    bad = (violation > 0.0) | (rng.random(rows) < 0.7)
    table["status"] = np.where(bad, "infeasible", "feasible")
    table["reason"] = np.where(bad, np.where(violation > 0.2, HEIGHT, TORQUE), "")
    table.loc[table.index % 211 == 3, ["status", "reason"]] = ["not settled", "value not finite"]
    counts = table.groupby(["status", "reason"], sort=True).size().rename("designs").reset_index()
    counts["designs"] = counts["designs"] * (designs // max(rows, 1))
    units = {one.name: (one.title, one.unit) for one in AXES} | {
        "tube_outer_radius": ("Outer radius of the tubes", "m"), "tube_length": ("Length", "m"),
        "tube_count.up": ("Tubes, up set", "1"), "heater_power.up": ("Heater power, up set", "W"),
        "hot_temperature": ("Hot temperature", "K"), "system_mass": ("System mass", "kg"),
        "peak_power": ("Peak power", "W"), "heat_time_max": ("Longest heating time", "s"),
    }  # fmt: skip
    columns = [
        {"column": name, "title": units[name][0], "unit": units[name][1], "low": column.min(),
         "median": column.median(), "high": column.max()}
        for name, column in table.items() if name in units
    ]  # fmt: skip
    return {"sweep_sample": table, "sweep_status": counts, "sweep_columns": pd.DataFrame(columns)}


INPUTS = (
    ("alloy.detwinning_start", "Detwinning start of the alloy"),
    ("assumptions.aero.moment_scale", "Aerodynamic hinge moments"),
    ("alloy.recoverable_strain", "Recoverable strain of the alloy"),
    ("requirements.bay_hot", "Hottest bay"),
    ("assumptions.power.controller_channel_mass", "Mass of a controller channel"),
    ("alloy.austenite_shear_modulus", "Shear modulus of austenite"),
    ("requirements.friction_factor", "Factor on friction"),
    ("alloy.density", "Density of the alloy"),
)


def sensitivity_tables() -> Tables:
    """Sobol and Morris indices of a margin of a fixed design and of the re-optimised mass."""
    sobol, morris = [], []
    for of, output in (("design", "least_torque_margin"), ("optimum", "system_mass")):
        for place, (name, title) in enumerate(INPUTS):
            first = 0.5 * math.exp(-0.7 * place) * (0.8 if of == "optimum" else 1.0)
            shared = {"of": of, "output": output, "input": name, "title": title}
            sobol.append(
                {**shared, "first": first, "first_interval": 0.02 + 0.05 * first,
                 "total": 1.2 * first + 0.01, "total_interval": 0.03 + 0.05 * first}
            )  # fmt: skip
            morris.append(
                {**shared, "effect": 2.0 * first, "effect_interval": 0.05 + 0.1 * first,
                 "spread": first * (0.3 + 0.1 * place)}
            )  # fmt: skip
    return {"sobol_indices": pd.DataFrame(sobol), "morris_effects": pd.DataFrame(morris)}


def assurance_tables() -> Tables:
    """Mass for four probabilities, the last one out of reach; inputs; a map of two requirements."""
    designs = pd.DataFrame([
        {"probability": share, "status": "feasible" if share < 0.99 else "infeasible",
         "system_mass": mass, "added": mass - 9.0, "held": share, "confirmed": share - 0.01,
         "confirmed_low": share - 0.02, "confirmed_high": share + 0.005, "price": 2.0,
         "samples": 1024,
         "reason": "" if share < 0.99 else f"Reached 97.1% of the samples; there fail: {HEAT} (2%)"}
        for share, mass in ((0.5, 9.5), (0.9, 11.0), (0.95, 12.2), (0.99, math.nan))
    ])  # fmt: skip
    margins = pd.DataFrame([
        {"probability": 0.9, "group": f"g{n}", "title": title, "margin": 0.1 * n, "deviation": 0.1,
         "failing": 0.05 / (n + 1)} for n, title in enumerate((TORQUE, RETURN, HEIGHT))
    ])  # fmt: skip
    inputs = pd.DataFrame([
        {"input": name, "title": title, "unit": "1", "value": 1.0, "low": 0.8, "high": 1.3,
         "probability": 0.9, "spent": 1.0 / (place + 1), "slope": 2.0 / (place + 1),
         "saved": 0.5 if place == 0 else math.nan, "measure": "a stress", "kind": "test"}
        for place, (name, title) in enumerate(INPUTS)
    ])  # fmt: skip
    axes = pd.DataFrame([one._asdict() for one in AXES[:2]]).rename(columns={"name": "axis"})
    levels = [np.linspace(one.low, one.high, 3) for one in AXES[:2]]
    points = pd.DataFrame(itertools.product(*levels), columns=[one.name for one in AXES[:2]])
    return {
        "assurance_designs": designs, "assurance_margins": margins, "assurance_inputs": inputs,
        "assurance_map": points.assign(confirmed=np.linspace(0.2, 0.95, len(points))),
        "assurance_axes": axes,
    }  # fmt: skip


LAWS = {"dynamic": 3.5, "mach": 3.0, "constant loading": 2.5}


def scaling_tables() -> Tables:
    """Family scaled by three laws, pure and full; the largest sizes are infeasible in full."""
    points, exponents = [], []
    sizes = np.geomspace(0.5, 4.0, 9)
    for law, theory in LAWS.items():
        for mode in ("pure", "full"):
            slope = theory if mode == "pure" else theory - 0.3
            for size in sizes:
                stopped = mode == "full" and size > 3.2
                row = {
                    "law": law, "mode": mode, "size": size, "vehicle_mass": 600.0 * size**3,
                    "status": "infeasible" if stopped else "feasible",
                    "reason": RETURN if stopped else "",
                    "active": "" if stopped else "; ".join(
                        [TORQUE, RETURN if size > 1.5 else SLENDER]
                        + ([CONVERTER] if size > 2.2 else [])
                    ),
                    "system_mass": np.nan if stopped else 11.0 * size**slope,
                    "peak_power": np.nan if stopped else 900.0 * size ** (slope - 0.7),
                    "fold_time": np.nan if stopped else 90.0 * size**0.5,
                }  # fmt: skip
                points.append(row)
            for quantity, title, at, known in (
                ("system_mass", "System mass", slope, theory),
                ("peak_power", "Peak power", slope - 0.7, math.nan),
                ("fold_time", "Fold time", 0.5, 0.5),
            ):
                exponents.append(
                    {"law": law, "mode": mode, "quantity": quantity, "title": title,
                     "exponent": at, "low": at - 0.04, "high": at + 0.04, "theory": known,
                     "sizes": 9 if mode == "pure" else 8}
                )  # fmt: skip
    return {"scaling_points": pd.DataFrame(points), "scaling_exponents": pd.DataFrame(exponents)}


def hostile(tables: Tables) -> Tables:
    """The same tables with markup and endless words wherever a text may come from a study."""
    found = {}
    for name, table in tables.items():
        changed = table.copy()
        for column in ("title", "reason", "active", "choice", "law"):
            if column in changed:
                text = changed[column].astype(str)
                changed[column] = text.where(text == "", text + " " + MARKUP + WORD)
        found[name] = changed
    return found


EXPLORATIONS = {
    "map": map_tables,
    "spread": lambda: map_tables(axes=6, sample=1000),
    "barren": lambda: all_infeasible(map_tables(axes=2)),
    "front": front_tables,
    "triple": lambda: front_tables(objectives=3),
    "sweep": sweep_tables,
    "sensitivity": sensitivity_tables,
    "scaling": scaling_tables,
    "assurance": assurance_tables,
    "wild": lambda: hostile(map_tables(axes=2) | front_tables() | scaling_tables()),
}
"""Tables by the name of a page."""
KINDS = {"spread": "map", "barren": "map", "triple": "front", "wild": "map"}
