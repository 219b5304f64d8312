"""A plant for tests: one tube of check case C12 under a constant torque, with simple heat."""

from __future__ import annotations

import jax
import numpy as np

from mdo.alloys import load_card
from mdo.disciplines.motion.records import MotionPlant, MotionState
from mdo.disciplines.tube import torsion

CELLS = 8
INNER, OUTER, LENGTH, TORQUE = 0.008, 0.010, 0.5, 100.0  # C12: ro 10, ri 8 mm, 0.5 m, 100 N*m
MASS, SPECIFIC, LATENT = 0.3647389, 470.0, 20e3  # C24
NEVER = {"detwinning_start_stress": 5e9, "detwinning_finish_stress": 6e9}
REF1 = jax.tree.map(float, load_card("ref1").record())._replace(**NEVER)
SECTION = torsion.section(OUTER, 0.2)


def tube_plant(**changes) -> MotionPlant:
    """One tube that a torque twists: fold angle is minus its twist; loss 1.5708 W/K (C25)."""
    radii = np.linspace(INNER, OUTER, CELLS + 1)
    third, fourth = np.diff(radii**3) / 3.0, np.diff(radii**4) / 4.0
    effective = float(SECTION.effective_radius)
    area = np.diff(radii**2) / np.diff(radii**2).sum()
    one = np.ones(1)
    plant = MotionPlant(
        alloy=REF1,
        transformation_shift=0.0 * one,
        wall_ratio=fourth / third / effective,
        wall_share=third / third.sum(),
        strain_per_twist=effective / LENGTH,
        torque_per_stress=float(SECTION.area) * effective,
        count=one,
        torque_count=one,
        side=one,
        gear_ratio=1.0,
        pre_twist=0.0 * one,
        start_angle=0.0 * one,
        drive_loss=0.0,
        drag_loss=0.0,
        compliance=0.0,
        lash=0.0,
        load_angle=-4.0,
        load_step=4.0,
        load_steady=np.full(3, -TORQUE),
        load_air=np.zeros(3),
        load_mass=np.zeros(3),
        friction=np.zeros(3),
        damping=0.0,
        inertia=0.05,
        friction_factor=1.0,
        load_factor=1.0,
        stop_low=-4.0,
        stop_high=4.0,
        heater_capacity=1e-3,
        cell_capacity=MASS * SPECIFIC * area,
        cell_latent=MASS * LATENT * area,
        gap=np.array([1e4, 0.0, 0.0]),
        gap_factor=1.0,
        half_inner=0.0,
        half_outer=0.0,
        wall_conductance=np.full(CELLS - 1, 1e5),
        loss_at_heater=0.0,
        loss=np.stack([np.full(40, 50.0 * 0.03141593), np.zeros(40)]),
        loss_bay=293.0,
        film_factor=1.0,
        beside=np.zeros((1, 1)),
        bay_capacity=1.0,
        bay_conductance=1e9,
        outside_temperature=293.0,
        heater_power=500.0 * one,
        heater_factor=one,
        stuck_on=0.0 * one,
        voltage_power=2.0,
        power_available=1e6,
        sag=0.0,
        at_once=1.0,
        in_order=0.0,
        jammed_from=np.inf,
        dead_from=np.inf,
    )
    plant = plant._replace(**changes)
    return jax.tree.map(lambda part: np.asarray(part, float), plant)


def hot_state(plant: MotionPlant, kelvin: float, angle: float = 0.0) -> MotionState:
    """Austenite at a temperature, free of stress."""
    cells = np.zeros((1, len(plant.wall_ratio)))
    return MotionState(
        heater=np.full(1, kelvin), cells=cells + kelvin, bay=np.asarray(plant.outside_temperature),
        fraction=cells, transformed=cells, stress=cells, angle=np.asarray(angle),
        rate=np.asarray(0.0), twist_strain=-np.full(1, plant.strain_per_twist * angle),
        time=np.asarray(0.0),
    )  # fmt: skip
