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
from mdo.disciplines.heat.network_tube import Sets, Surroundings, Turning, tube_network
from mdo.disciplines.heat.radiation import radiative_coefficient
from mdo.disciplines.motion.records import MotionPlant, MotionState
from mdo.disciplines.motion.step import EXCESS_STEP, HUNDRED, MIDDLE, twist_strain
from mdo.disciplines.records import Alloy
from mdo.disciplines.tube import torsion
from mdo.disciplines.tube.driven_march import march_driven
from mdo.disciplines.tube.incremental import State
from mdo.disciplines.tube.radial_wall import Wall
from mdo.disciplines.tube.roles import OPPOSED
from mdo.disciplines.tube.sma import martensite_stress
from mdo.disciplines.tube.travel import spring_moment_over_travel
from mdo.model.kept import kept

LOAD_ANGLES = 65  # of the tables of load, uniform over the travel
EXCESSES = 72  # of the table of losses
GAP_KELVIN = (280.0, 400.0, 520.0, 640.0, 760.0)  # [K] through which the gap's quadratic goes
BRANCH_ANGLES = 61  # of the inverse hysteresis
COLD, HOT_BEYOND = -1e9, 60.0  # [Pa] no stress is held; [K] beyond the hot temperature


class MotionCase(NamedTuple):
    """Which leg moves and where: number of its leg, bay [K], share of the nominal heater power."""

    leg: int = 0
    bay: float | None = None
    heater: float = 1.0
    friction: float = 1.0


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
    turning = Turning(jnp.asarray(300.0), jnp.asarray(10.0), latent)
    return tube_network(
        hardware=hardware, capacity=hardware.capacity_heating, turning=turning, other=turning,
        other_capacity=hardware.capacity_heating, power=jnp.zeros(()),
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
    groups = np.flatnonzero(counts > 1e-3)
    cold, hot = (float(values[f"bay_{end}_temperature"][case.leg]) for end in ("cold", "hot"))
    bay = (cold + hot) / 2.0 if case.bay is None else case.bay
    section = torsion.section(design["tube_outer_radius"], design["wall_ratio"])
    inner, outer = float(section.inner_radius), float(section.outer_radius)
    networks = [
        _network(parameters, design, values, case.leg, group, counts, bay) for group in groups
    ]
    heat = _heat(networks[0], bay)
    radii = np.linspace(inner, outer, CELLS + 1)
    ratio, share = _wall_of(radii)
    if heat["loss_at_heater"] > 0.5:
        ratio, share = ratio[::-1], share[::-1]
    count = counts[groups]
    gear, span = float(design["gear_ratio"]), values["travel_high"] - values["travel_low"]
    rated = np.max(np.asarray(design["operating_stress"])[groups])
    dragged = float(values["drag_efficiency"])
    shared = float(values["transmission_efficiency"]) / dragged
    tables = _load_tables(parameters, design, values, case.leg)
    present = count > 0
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
        gear_ratio=gear,
        pre_twist=np.asarray(design["pre_twist"])[groups],
        start_angle=np.where(groups == 0, values["travel_low"], values["travel_high"]),
        drive_loss=1.0 - dragged,
        drag_loss=1.0 / (dragged * shared) - 1.0,
        compliance=float(values["windup_ratio"]) * gear * float(span) / float(rated),
        lash=0.0,
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
        heater_power=case.heater * np.asarray(design["heater_power"])[groups] / count,
        heater_factor=1.0 * present,
        stuck_on=0.0 * count,
        voltage_power=0.0 if float(supply.regulated) > 0.5 else 2.0,
        power_available=float(supply.power_available) / float(choices.assemblies),
        jammed_from=np.inf,
    )  # fmt: skip


def _beside(networks: list[TubeNetwork], count: Floats) -> Floats:
    """Conductance between the sets of a wing [W/K], by radiation at 400 K."""
    between = np.zeros((count.size, count.size))
    if count.size > 1:
        network = networks[0]
        radiated = network.surface.area * network.pair_emissivity
        radiated = radiated * radiative_coefficient(jnp.asarray(MIDDLE), jnp.asarray(MIDDLE))
        sleeves = network.surface.sleeve_resistance * (1.0 + 1.0 / network.neighbours)
        between[0, 1] = between[1, 0] = count[0] * float(radiated / (1.0 + radiated * sleeves))
    return between


def cold_start(
    plant: MotionPlant, angle: float, temperature: float, detwinned: float = 0.0
) -> MotionState:
    """Wing at rest with cold tubes, wound as the level of the model has them.

    Parameters
    ----------
    plant : record
    angle : fold angle [rad]
    temperature : of all of it [K], below M_f
    detwinned : 1 where cold tubes were twisted, 0 where they cooled under load
    """
    whole = twist_strain(jnp.asarray(angle), plant)
    strain = whole
    for _ in range(30):
        wall = jnp.maximum(strain, 0.0)[:, None] * jnp.asarray(plant.wall_ratio)
        stress = martensite_stress(wall, plant.alloy, detwinned)
        mean = jnp.sum(jnp.asarray(plant.wall_share) * stress, axis=-1)
        strain = 0.5 * (strain + whole - plant.strain_per_twist * plant.compliance * mean)
    groups, cells = wall.shape
    elastic = stress / plant.alloy.martensite_shear_modulus
    same = jnp.full(groups, float(temperature))
    return MotionState(
        heater=same,
        cells=jnp.full((groups, cells), float(temperature)),
        bay=jnp.asarray(float(plant.outside_temperature)),
        fraction=jnp.ones((groups, cells)),
        transformed=wall - elastic,
        stress=stress,
        angle=jnp.asarray(float(angle)),
        rate=jnp.zeros(()),
        twist_strain=strain,
        time=jnp.zeros(()),
    )


class Branches(NamedTuple):
    """Inverse hysteresis of each group over the travel, (K, A).

    angle (A,) [rad]; heating, cooling: temperature at which the wing stands there [K];
    fraction: martensite on the heating branch [1]; reached: 1 where a temperature does it.
    """

    angle: Floats
    heating: Floats
    cooling: Floats
    fraction: Floats
    reached: Floats


@cache
def _marching() -> Any:
    """Compiled march of one group to its end and back, its trace kept."""

    def there_and_back(
        strain: Any, driving: Any, dragged: Any, start: Any, wall: Any, alloy: Any, ends: Any
    ) -> Any:
        wall, start, alloy = Wall(*wall), State(*start), Alloy(*alloy)
        up = march_driven(strain, driving, start, wall, alloy, ends)
        last = jax.tree.map(lambda part: part[-1], up.states)
        down = march_driven(strain[::-1], dragged[::-1], last, wall, alloy, ends)
        mean = jnp.sum(wall.share * up.states.fraction, axis=-1)
        return up.temperature, down.temperature[::-1], mean, up.mean_stress, up.residual

    return kept(there_and_back, march_driven.__qualname__ + ".there_and_back")


def inverse_hysteresis(
    plant: MotionPlant, start_of: Any, angles: tuple[float, float], hot: float
) -> Branches:
    """Temperatures at which the wing stands at an angle, heating and cooling, under steady load.

    Parameters
    ----------
    plant : record
    start_of : state at an angle, cold
    angles : lowest and highest angle of the tables [rad]
    hot : hottest temperature of the design [K]
    """
    angle = np.linspace(*angles, BRANCH_ANGLES)
    share = np.asarray(plant.wall_share)
    at = np.asarray(plant.load_angle) + plant.load_step * np.arange(len(plant.load_steady))  # type: ignore[arg-type]
    load = plant.load_factor * np.interp(angle, at, np.asarray(plant.load_steady))
    friction = plant.friction_factor * np.interp(angle, at, np.asarray(plant.friction))
    groups = len(np.asarray(plant.side))
    arm = np.asarray(plant.gear_ratio * plant.torque_per_stress * np.asarray(plant.torque_count))
    heating, cooling, fraction, reached = (np.empty((groups, angle.size)) for _ in range(4))
    for group, side in enumerate(np.asarray(plant.side)):
        ways = slice(None) if side > 0 else slice(None, None, -1)  # from its start to its end
        other = _cold_resistance(plant, start_of, angle, group)
        needed = -side * load + other
        keep = (1.0 - plant.drive_loss, 1.0 + plant.drag_loss)
        driving = ((needed + friction) / keep[0] / arm[group])[ways]
        dragged = ((needed - friction) / keep[1] / arm[group])[ways]
        strain = np.array([twist_strain(jnp.asarray(one), plant)[group] for one in angle])[ways]
        gives = plant.strain_per_twist * plant.compliance
        start = start_of(angle[ways][0])
        ends = (float(start.cells[group, 0]), hot + HOT_BEYOND)
        given = (
            strain - gives * driving, driving, dragged,
            tuple(np.asarray(part)[group] for part in (start.fraction, start.transformed, start.stress)),
            (np.asarray(plant.wall_ratio), share), tuple(plant.alloy), ends,
        )  # fmt: skip
        up, down, mean, _, missed = (
            np.asarray(part) for part in _marching()(*jax.tree.map(np.asarray, given))
        )
        for target, course in (
            (heating, up), (cooling, down), (fraction, mean), (reached, (missed < 1e-3) * 1.0),
        ):  # fmt: skip
            target[group] = course[ways]
    return Branches(angle, heating, cooling, fraction, reached)


def _cold_resistance(plant: MotionPlant, start_of: Any, angle: Floats, group: int) -> Floats:
    """Moment of the other cold set against a group over the angles [N*m]; none where it is alone."""
    resisting = np.zeros(angle.size)
    for place, one in enumerate(angle):
        for other, side in enumerate(np.asarray(plant.side)):
            if side != np.asarray(plant.side)[group]:
                mean = float(jnp.sum(plant.wall_share * start_of(one).stress[other]))
                arm = plant.gear_ratio * plant.torque_per_stress
                pull = float(arm * np.asarray(plant.torque_count)[other] * mean)
                resisting[place] += max(pull, 0.0) * float(1.0 + plant.drag_loss)
    return resisting


def is_opposed(parameters: Mapping[str, Any]) -> bool:
    """Whether two sets pull against each other."""
    return float(parameters["choices"].configuration) == OPPOSED
