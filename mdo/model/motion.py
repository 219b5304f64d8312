"""Plant of the fold in time, made of a design and what the model says of it.

Moments, efficiencies, shares and hardware are those of the model's own levels; walls are those of
the level that follows a path, heat that of the network.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
from scipy.interpolate import CubicSpline

from mdo.arrays import Floats
from mdo.disciplines.heat.hardware import tube_hardware
from mdo.disciplines.heat.heater import gap_conductance
from mdo.disciplines.heat.loss import tube_loss
from mdo.disciplines.heat.network_nodes import CELLS, TubeNetwork
from mdo.disciplines.heat.network_tube import Body, Sets, Surroundings, Turning, tube_network
from mdo.disciplines.heat.radiation import radiative_coefficient
from mdo.disciplines.motion.branches import Branches, cold_start, inverse_hysteresis, just_heated
from mdo.disciplines.motion.records import MotionPlant, MotionState
from mdo.disciplines.motion.step import EXCESS_STEP, HUNDRED, MIDDLE
from mdo.disciplines.records import Alloy
from mdo.disciplines.tube import torsion
from mdo.disciplines.tube.roles import OPPOSED
from mdo.disciplines.tube.travel import spring_moment_over_travel
from mdo.model.kept import kept

ALL_AT_ONCE = 1e6  # groups: more than there are
ALL_GIVEN = {"sag": 0.0, "at_once": ALL_AT_ONCE, "in_order": 0.0}  # a supply without a shortage
LOAD_ANGLES = 65  # of the tables of load, uniform over the travel
EXCESSES = 72  # of the table of losses
GAP_KELVIN = (280.0, 400.0, 520.0, 640.0, 760.0)  # [K] through which the gap's quadratic goes
HOT_BEYOND, BELOW = 60.0, 5.0  # [K] beyond the hot temperature, below M_f: where branches end


class MotionCase(NamedTuple):
    """Which leg moves and where: number of its leg, bay [K], share of the nominal heater power.

    friction: factor on that predicted; parts: heater groups of each set.
    """

    leg: int = 0
    bay: float | None = None
    heater: float = 1.0
    friction: float = 1.0
    parts: int = 1


def _wall_of(radii: Floats) -> tuple[Floats, Floats]:
    """Place over r_w and share in the mean stress of each cell, both exact where it is elastic."""
    third, fourth = np.diff(radii**3) / 3.0, np.diff(radii**4) / 4.0
    effective = (2.0 / 3.0) * (radii[-1] ** 3 - radii[0] ** 3) / (radii[-1] ** 2 - radii[0] ** 2)
    return fourth / third / effective, third / third.sum()


def _load_tables(
    parameters: Mapping[str, Any], design: Mapping[str, Any], values: Mapping[str, Floats], leg: int
) -> dict[str, Any]:
    """Moments of a leg over uniform angles of the whole travel."""
    low, high = float(values["travel_low"]), float(values["travel_high"])
    angles = np.linspace(low, high, LOAD_ANGLES)
    known = np.asarray(parameters["fold_angle"])[leg]
    order = np.argsort(known)

    def over(of_leg: Any) -> Floats:
        curve = CubicSpline(known[order], np.asarray(of_leg, dtype=float)[order], bc_type="natural")
        return np.asarray(curve(angles))

    vehicle, choices = parameters["vehicle"], parameters["choices"]
    spring = spring_moment_over_travel(
        fold_angle=jnp.asarray(angles), choices=choices, spring_moment=design["spring_moment"],
        spring_rate=design["spring_rate"], travel_low=low, travel_high=high,
    )  # fmt: skip
    skin = vehicle.skin_stiffness * (angles - vehicle.skin_free_angle)
    bottom, top = values["moment_low"][leg], values["moment_high"][leg]
    mass = (values["mass_moment_high"][leg] - values["mass_moment_low"][leg]) / 2.0
    steady = over((bottom + top) / 2.0) - skin - float(choices.drive_side) * np.asarray(spring)
    return {
        "load_angle": low,
        "load_step": angles[1] - angles[0],
        "load_steady": steady,
        "load_air": over((top - bottom) / 2.0 - mass),
        "load_mass": over(mass),
        "friction": over(values["friction_moment"][leg]),
        "damping": float(np.mean(values["damping_per_rate"][leg])),
        "inertia": float(np.mean(values["moving_inertia"][leg])),
        "stop_low": low,
        "stop_high": high,
    }


def _network(
    parameters: Mapping[str, Any], design: Mapping[str, Any], values: Mapping[str, Floats],
    leg: int, group: int, sets: Floats, bay: float,
) -> TubeNetwork:  # fmt: skip
    """Nodes of one tube of a set, as the level `network` has them."""
    assumed, choices, alloy = (
        parameters[name] for name in ("thermal_assumptions", "choices", "alloy")
    )
    hardware = tube_hardware(
        tube_outer_radius=jnp.asarray(design["tube_outer_radius"]),
        wall_ratio=jnp.asarray(design["wall_ratio"]),
        tube_length=jnp.asarray(design["tube_length"]),
        insulation_thickness=jnp.asarray(design["insulation_thickness"]),
        fitting_mass_per_tube=jnp.asarray(values["fitting_mass_per_tube"])[group],
        radiation_exposure=jnp.asarray(values["radiation_exposure"]),
        convection_exposure=jnp.asarray(values["convection_exposure"]),
        alloy=alloy, choices=choices, assumed=assumed,
    )  # fmt: skip
    latent = hardware.tube_mass * jnp.asarray(alloy.latent_heat)
    body = Body(hardware.capacity_heating, Turning(jnp.asarray(300.0), jnp.asarray(10.0), latent))
    return tube_network(
        hardware=hardware, own=body, other=body, power=jnp.zeros(()),
        sets=Sets(jnp.asarray(sets[group]), jnp.asarray(sets.sum() - sets[group])),
        surroundings=Surroundings(
            jnp.asarray(bay), jnp.asarray(values["air_pressure"])[leg], None
        ),
        exposure=jnp.asarray(values["radiation_exposure"]), alloy=alloy, choices=choices,
        assumed=assumed, cells=CELLS,
    )  # fmt: skip


def _heat(network: TubeNetwork, bay: float) -> dict[str, Any]:
    """Capacities and conductances of a tube over temperature, from its nodes."""
    inside = bool(network.cartridge > 0.5)
    nodes = np.asarray(network.capacity)[:-2]
    latent = np.asarray(network.latent)[:-2]
    chain = slice(1, None) if inside else slice(-2, None, -1)
    excess = bay + EXCESS_STEP * np.arange(EXCESSES)

    def loss(air: float) -> Floats:
        lost = tube_loss(
            tube_temperature=jnp.asarray(excess + (air - bay)), air_temperature=jnp.asarray(air),
            pressure=network.pressure, speed=None, surface=network.surface,
        )  # fmt: skip
        return np.asarray(lost.conductance)

    warm, cold = loss(bay + 20.0), loss(bay)
    return {
        "heater_capacity": nodes[0] if inside else nodes[-1],
        "cell_capacity": nodes[chain],
        "cell_latent": latent[chain],
        "gap": _gap(network) if inside else np.array([float(network.bond), 0.0, 0.0]),
        "half_inner": float(network.inner_half if inside else network.outer_half),
        "half_outer": float(network.outer_half) if inside else 0.0,
        "wall_conductance": np.asarray(network.wall)[:: 1 if inside else -1],
        "loss_at_heater": 0.0 if inside else 1.0,
        "loss": np.stack([cold, (warm - cold) / 20.0]),
        "loss_bay": bay,
    }


def _gap(network: TubeNetwork) -> Floats:
    """Conductance of the gap [W/K] as a quadratic of its temperature."""
    kelvin = np.asarray(GAP_KELVIN)
    conductance = network.heater_area * gap_conductance(
        temperature=jnp.asarray(kelvin), pressure=network.pressure, gap=network.heater_gap,
        emissivity=network.gap_emissivity,
    )  # fmt: skip
    return np.polynomial.polynomial.polyfit((kelvin - MIDDLE) / HUNDRED, np.asarray(conductance), 2)


def _transmission(
    design: Mapping[str, Any], values: Mapping[str, Floats], groups: Any, shared: float
) -> dict[str, float]:
    """Gear ratio, losses either way and compliance; the wind-up is that of the housing."""
    gear, dragged = float(design["gear_ratio"]), float(values["drag_efficiency"])
    span = float(values["travel_high"]) - float(values["travel_low"])
    rated = float(np.max(np.asarray(design["operating_stress"])[groups]))
    return {
        "gear_ratio": gear,
        "drive_loss": 1.0 - dragged,
        "drag_loss": 1.0 / (dragged * shared) - 1.0,
        "compliance": float(values["windup_ratio"]) * gear * span / rated,
    }


def motion_plant(
    parameters: Mapping[str, Any],
    design: Mapping[str, Any],
    values: Mapping[str, Floats],
    case: MotionCase = MotionCase(),  # noqa: B008
) -> MotionPlant:
    """Plant of one wing.

    Parameters
    ----------
    parameters : of the study
    design, values : design by name, and the outputs of the model there
    case : which leg moves, in which bay, with how much of the heater power
    """
    choices, supply, assumed = (
        parameters[name] for name in ("choices", "supply", "thermal_assumptions")
    )
    counts = np.asarray(choices.set_present) * np.asarray(design["tube_count"])
    groups = np.repeat(np.flatnonzero(counts > 1e-3), case.parts)
    cold, hot = (float(values[f"bay_{end}_temperature"][case.leg]) for end in ("cold", "hot"))
    bay = (cold + hot) / 2.0 if case.bay is None else case.bay
    section = torsion.section(design["tube_outer_radius"], design["wall_ratio"])
    inner, outer = float(section.inner_radius), float(section.outer_radius)
    networks = [
        _network(parameters, design, values, case.leg, group, counts, bay)
        for group in map(int, groups)
    ]
    heat = _heat(networks[0], bay)
    radii = np.linspace(inner, outer, CELLS + 1)
    ratio, share = _wall_of(radii)
    if heat["loss_at_heater"] > 0.5:
        ratio, share = ratio[::-1], share[::-1]
    count = counts[groups] / case.parts
    tables = _load_tables(parameters, design, values, case.leg)
    shared = float(values["transmission_efficiency"]) / float(values["drag_efficiency"])
    return MotionPlant(
        alloy=Alloy(*(np.asarray(field, dtype=float) for field in parameters["alloy"])),
        transformation_shift=0.0 * count,
        wall_ratio=ratio,
        wall_share=share,
        strain_per_twist=float(section.effective_radius) / float(design["tube_length"]),
        torque_per_stress=float(section.area * section.effective_radius),
        count=count,
        torque_count=count * shared,
        side=np.where(groups == 0, 1.0, -1.0),
        pre_twist=np.asarray(design["pre_twist"])[groups],
        start_angle=np.where(groups == 0, values["travel_low"], values["travel_high"]),
        lash=0.0,
        **_transmission(design, values, groups, shared),
        **tables,
        friction_factor=case.friction,
        load_factor=1.0,
        **heat,
        gap_factor=1.0,
        film_factor=1.0,
        beside=_beside(networks, count),
        bay_capacity=float(assumed.bay_capacity),
        bay_conductance=float(assumed.bay_conductance),
        outside_temperature=bay,
        heater_power=case.heater * np.asarray(design["heater_power"])[groups] / counts[groups],
        heater_factor=0.0 * count + 1.0,
        stuck_on=0.0 * count,
        voltage_power=0.0 if float(supply.regulated) > 0.5 else 2.0,
        power_available=float(supply.power_available) / float(choices.assemblies),
        **ALL_GIVEN,
        jammed_from=np.inf,
        dead_from=np.inf,
    )  # fmt: skip


def _beside(networks: list[TubeNetwork], count: Floats) -> Floats:
    """Conductance between neighbouring groups of a wing [W/K], by radiation at 400 K."""
    between, network = np.zeros((count.size, count.size)), networks[0]
    for k in range(count.size - 1):
        radiated = network.surface.area * network.pair_emissivity
        radiated = radiated * radiative_coefficient(jnp.asarray(MIDDLE), jnp.asarray(MIDDLE))
        sleeves = network.surface.sleeve_resistance * (1.0 + 1.0 / network.neighbours)
        between[k, k + 1] = between[k + 1, k] = count[k] * float(
            radiated / (1.0 + radiated * sleeves)
        )
    return between


class MotionModel(NamedTuple):
    """A wing as it moves: plant, tables of its branches, ends of the travel, hot temperature [K].

    detwinned: 1 where cold tubes were twisted, 0 where they cooled under load. warm_side: 1 or -1,
    the side of the set that has just been heated where the motion starts; 0: none.
    """

    plant: MotionPlant
    branches: Branches
    detwinned: float
    hot_temperature: float
    warm_side: float = 0.0


@cache
def _functions() -> tuple[Any, Any]:
    """Compiled start and tables of the branches, their traces kept."""

    def start(plant: Any, angle: Any, kelvin: Any, detwinned: Any, warm: Any, hot: Any) -> Any:
        cold = cold_start(plant, angle, kelvin, detwinned)
        group = (jnp.asarray(plant.side) == warm) * 1.0
        return tuple(just_heated(plant, cold, group, hot, detwinned))

    return (
        kept(start, "motion start"),
        kept(lambda *given: tuple(inverse_hysteresis(*given)), inverse_hysteresis.__qualname__),
    )


def _rigged(plant: MotionPlant, detwinned: float) -> MotionPlant:
    """Plant whose tubes have the twist of sizing cold at their own ends: wind-up is taken up."""
    ends = np.asarray(plant.start_angle, float)
    wound = [
        start_of(MotionModel(plant._replace(compliance=0.0), None, detwinned, 0.0), end, 0.0)  # type: ignore[arg-type]
        for end in ends
    ]
    mean = [float(np.sum(plant.wall_share * state.stress[k])) for k, state in enumerate(wound)]
    return plant._replace(pre_twist=plant.pre_twist + plant.compliance * np.maximum(mean, 0.0))


def start_of(model: MotionModel, angle: float, temperature: float) -> MotionState:
    """Wing at rest at an angle [rad], at a temperature [K] but for the set just heated."""
    given = jax.tree.map(
        lambda part: np.asarray(part, float),
        (angle, temperature, model.detwinned, model.warm_side, model.hot_temperature),
    )
    return MotionState(*_functions()[0](model.plant, *given))


def motion_model(
    parameters: Mapping[str, Any],
    design: Mapping[str, Any],
    values: Mapping[str, Floats],
    case: MotionCase = MotionCase(),  # noqa: B008
) -> MotionModel:
    """Plant with the tables that its controller knows of it; arguments of :func:`motion_plant`."""
    plant = jax.tree.map(
        lambda part: np.asarray(part, float), motion_plant(parameters, design, values, case)
    )
    legs, choices = parameters["legs"], parameters["choices"]
    pair = float(choices.configuration) == OPPOSED
    wound = max(float(choices.return_mode), float(np.asarray(legs.wound_cold)[case.leg]))
    detwinned = wound if pair else 0.0
    hot = float(design["hot_temperature"])
    coldest = float(parameters["alloy"].martensite_finish) - BELOW
    ends = np.array([float(values["travel_low"]), float(values["travel_high"])])
    span = np.array([coldest, hot + HOT_BEYOND])
    plant = _rigged(plant, detwinned)
    found: Any = map(np.asarray, _functions()[1](plant, ends, span, np.asarray(detwinned)))
    way = float(np.sign(np.asarray(legs.angle_to) - np.asarray(legs.angle_from))[case.leg])
    warm = -way if pair and float(np.asarray(legs.other_cold)[case.leg]) < 0.5 else 0.0
    return MotionModel(plant, Branches(*found), detwinned, hot, warm)
