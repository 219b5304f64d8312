"""A made-up wing for kept numbers: three groups in two sets, three cells, no field at a default."""

from __future__ import annotations

from functools import cache

import jax
import numpy as np

from mdo.disciplines.motion import branches
from mdo.disciplines.motion.controller import Controller
from mdo.disciplines.motion.records import MotionPlant
from tests.disciplines.motion_plants import REF1

ALLOY = REF1._replace(detwinning_start_stress=90e6, detwinning_finish_stress=230e6)
K, STEP, SAMPLE = 3, 0.45, 0.9
PLANT = MotionPlant(
    alloy=ALLOY, transformation_shift=np.array([2.5, -1.5, 3.5]),
    wall_ratio=np.array([0.92, 0.99, 1.07]), wall_share=np.array([0.29, 0.33, 0.38]),
    strain_per_twist=0.021, torque_per_stress=1.1e-6, count=np.array([1.3, 0.8, 2.2]),
    torque_count=np.array([1.2, 0.7, 1.9]), side=np.array([1.0, 1.0, -1.0]), gear_ratio=1.35,
    pre_twist=np.array([1.15, 1.05, 0.95]), start_angle=np.array([-0.35, -0.28, 0.75]),
    drive_loss=0.06, drag_loss=0.09, compliance=2.3e-10, lash=0.013, load_angle=-0.5,
    load_step=0.35, load_steady=np.array([-31.0, -47.0, -38.0, -22.0, 9.0]),
    load_air=np.array([7.0, 9.0, 4.0, 3.0, 5.0]), load_mass=np.array([2.0, 3.0, 5.0, 4.0, 2.5]),
    friction=np.array([2.0, 2.7, 2.3, 1.5, 3.1]), damping=4.3, inertia=1.9, friction_factor=1.2,
    load_factor=1.07, stop_low=-0.45, stop_high=0.85, heater_capacity=6.1,
    cell_capacity=np.array([10.0, 12.0, 15.0]), cell_latent=np.array([310.0, 360.0, 430.0]),
    gap=np.array([9.0, 0.8, 0.17]), gap_factor=0.87, half_inner=0.013, half_outer=0.021,
    wall_conductance=np.array([46.0, 53.0]), loss_at_heater=0.0,
    loss=np.stack([0.9 + 0.06 * np.arange(20.0) ** 1.2, 0.002 + 0.0003 * np.arange(20.0)]),
    loss_bay=299.0, film_factor=1.15,
    beside=np.array([[0.0, 0.11, 0.17], [0.11, 0.0, 0.07], [0.17, 0.07, 0.0]]),
    bay_capacity=850.0, bay_conductance=3.7, outside_temperature=288.0,
    heater_power=np.array([410.0, 380.0, 520.0]), heater_factor=np.array([0.93, 1.04, 0.88]),
    stuck_on=np.zeros(K), voltage_power=1.85, power_available=720.0, sag=7e-5, at_once=1.45,
    in_order=0.0, jammed_from=np.inf, dead_from=np.inf,
)  # fmt: skip
SWITCHED = PLANT._replace(
    loss_at_heater=1.0, in_order=1.0, voltage_power=0.0, sag=9e-4, stuck_on=np.array([0.0, 1, 0])
)
HEAT = np.array([[374.0, 391.0, 402.0, 409.0]])
CONTROLLER = Controller(
    table_angle=-0.4, table_step=0.4, kelvin_heating=HEAT + np.array([[0.0], [2.5], [-3.0]]),
    kelvin_cooling=HEAT - np.array([[43.0], [41.0], [46.0]]),
    heat_up=np.array([[1900.0, 2150, 2300, 2700], [850, 1900, 2250, 2600], [2950, 2870, 2820, 99]]),
    heat_down=-np.array([[800.0, 950, 1200, 1500], [750, 900, 1150, 1450], [910, 830, 790, 640]]),
    heat_taken=np.array([[20.0, 400, 900, 1500], [10, 350, 800, 1400], [1200, 850, 500, 30]]),
    capacity=57.0, heater_capacity=6.6, heater_conductance=7.9, loss=np.array([1.1, 0.0031]),
    bay=296.0, temperature_time=2.3, position_time=3.1, caution=2.7, kelvin_max=452.0,
    anti_windup=1.0, dead_band=0.006, switch_band=0.027, angle_bias=0.0013, angle_noise=0.0004,
    angle_step=0.0007, angle_gain=1.006, kelvin_bias=0.8, kelvin_gain=np.array([0.97, 1.02, 0.99]),
    kelvin_noise=0.3, kelvin_step=0.25, sensor_lag=1.7, cut_off=431.0, cut_off_lag=2.3,
    cut_off_present=1.0, locks=0.0, brakes=0.0, lock_low=-0.31, lock_high=0.69, lock_band=0.017,
)  # fmt: skip


def wing(angle, warm, kelvin=318.0, detwinned=0.6, plant=PLANT):
    """State of the wing wound cold at an angle, the groups that are marked just heated to 394 K."""
    state = cold(plant, angle, kelvin, detwinned)
    return heated(plant, state, np.asarray(warm), 394.0, detwinned)


cold = jax.jit(branches.cold_start)
heated = jax.jit(branches.just_heated)
STARTS = {"up": (0.1, (1.0, 1.0, 0.0)), "down": (0.36, (0.0, 0.0, 1.0))}


@cache
def some_state():
    """State with every field of its own, off any balance."""
    state, a = wing(0.21, (1.0, 0.0, 1.0)), np.arange(1.0, 10.0).reshape(3, 3)
    return state._replace(
        heater=np.array([421.0, 333.0, 405.0]), cells=np.asarray(state.cells) + 1.3 * a + 1.0,
        bay=np.asarray(301.5), fraction=np.asarray(state.fraction) * 0.9 + 0.004 * a,
        transformed=np.asarray(state.transformed) + 1e-4 * a, rate=np.asarray(0.023),
        stress=np.asarray(state.stress) + 1e6 * a, time=np.asarray(7.3),
    )  # fmt: skip
