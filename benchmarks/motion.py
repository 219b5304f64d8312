"""The fold in time in batch against a scalar NumPy loop of the same level and step.

    python benchmarks/motion.py [folds] [lanes] [scalar steps]

Batch: wings over the scatter of units, under control, 3,000 steps of 0.2 s, in chunks of lanes.
Scalar: one wing in a loop of NumPy, the same balance by the same Newton, power given, no
controller and no record, so it does less. Prints one line of JSON.
"""

from __future__ import annotations

import json
import sys
import time
from typing import Any

import jax
import numpy as np

from mdo.disciplines.motion.simulate import replay
from mdo.disciplines.motion.step import CALM_ROUNDS, EXCESS_STEP, ROUNDS, SLOW_ROUNDS
from mdo.explore.motion.commands import make_command, motion_of
from mdo.explore.motion.motion import drawn_units, unit_of
from mdo.explore.motion.wing import Wing, make_wing
from mdo.model.layout import split_design
from mdo.model.motion_run import BLOCK, Lane
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import make_problem
from mdo.study.study import load_study

STUDY, STEPS, STEP = "studies/bench_500_45_45.toml", 3000, 0.2
ROOT3 = 3.0**0.5


def sized_wing() -> Wing:
    """Wing of the study, sized, with its controller."""
    problem = make_problem(load_study(STUDY))
    optimum = find_optimum(problem, starts=1)
    design = {name: np.asarray(value) for name, value in split_design(optimum.design).items()}
    values = {name: np.asarray(value) for name, value in problem.values(optimum.design).items()}
    assembled = problem.assembled
    motion = motion_of(assembled.legs, assembled.parameters["legs"], None)
    assert motion is not None
    return make_wing(problem, design, values, motion)


def smooth(x: Any) -> Any:
    return 0.5 * (1.0 - np.cos(np.pi * np.clip(x, 0.0, 1.0)))


def law(tau: Any, kelvin: Any, xi0: Any, gamma0: Any, a: Any) -> tuple[Any, Any, Any]:
    """Strain, fraction and transformation strain of each cell, as `next_point` has them."""
    size = np.abs(tau)
    shift = ROOT3 / a.slope_factor
    forward = smooth(
        (a.martensite_start + shift * size / a.martensite_slope - kelvin)
        / (a.martensite_start - a.martensite_finish)
    )
    along = np.maximum(np.where(gamma0 < 0, -tau, tau), 0.0)
    reverse = smooth(
        (a.austenite_finish + shift * along / a.austenite_slope - kelvin)
        / (a.austenite_finish - a.austenite_start)
    )
    xi = np.minimum(np.maximum(xi0, forward), reverse)
    factor, rise = ROOT3 * a.strain_factor, a.strain_saturation - a.strain_min
    width = np.minimum(2e6, a.strain_threshold_stress) + 1e-3
    gap = ROOT3 * size - a.strain_threshold_stress
    over = np.where(np.abs(gap) >= width, np.maximum(gap, 0.0), (gap + width) ** 2 / (4.0 * width))
    cooled = factor * (a.strain_min + rise * (1.0 - np.exp(-a.strain_rate_constant * over)))
    least = factor * a.strain_min
    oriented = np.sign(tau) * (cooled - least) + least
    some = np.where(xi0 > 0, xi0, 1.0)
    gamma = np.where(xi > xi0, gamma0 + oriented * (xi - xi0), gamma0 * xi / some)
    above = np.maximum(kelvin - a.martensite_start, 0.0) * a.martensite_slope / shift
    turned = smooth(
        (ROOT3 * np.maximum(size - above, 0.0) - a.detwinning_start_stress)
        / (a.detwinning_finish_stress - a.detwinning_start_stress)
    )
    twinned = xi * factor * (a.strain_min + rise * turned)
    up = np.maximum(gamma, np.where(twinned > xi * least, twinned, gamma))
    full = xi * factor * a.strain_saturation
    gamma = np.where(tau >= 0, up, np.minimum(gamma, full - 2.0 * (twinned - xi * least)))
    softness = (1.0 - xi) / a.austenite_shear_modulus + xi / a.martensite_shear_modulus
    return tau * softness + gamma, xi, gamma


def table(values: Any, place: float) -> tuple[float, float]:
    """Value and slope per place, linear beyond the ends too, as `table_at` has them."""
    low = min(max(int(np.floor(place)), 0), len(values) - 2)
    slope = values[low + 1] - values[low]
    return float(values[low] + slope * (place - low)), float(slope)


def scalar_loop(p: Any, start: Any, watts: float, steps: int) -> tuple[float, float]:
    """One wing, one group, a cartridge: fold angle and temperature at the end."""
    p = jax.tree.map(np.asarray, p)
    s = jax.tree.map(np.asarray, start)
    heater, cells, bay = float(s.heater[0]), s.cells[0].copy(), float(s.bay)
    xi, gamma, tau = s.fraction[0].copy(), s.transformed[0].copy(), s.stress[0].copy()
    angle, rate, strain = float(s.angle), float(s.rate), float(s.twist_strain[0])
    a, side, arm = (
        p.alloy,
        float(p.side[0]),
        float(p.gear_ratio * p.torque_per_stress * p.torque_count[0]),
    )
    volume = p.torque_per_stress / p.strain_per_twist * p.wall_share
    size = cells.size
    for _ in range(steps):
        still, warmer = (table(part, abs(cells[-1] - bay) / EXCESS_STEP)[0] for part in p.loss)
        outer = still + (bay - p.loss_bay) * warmer
        outer /= 1.0 + outer * p.half_outer
        warm = ((heater + cells[0]) / 2.0 - 400.0) / 100.0
        inner = p.gap[0] + warm * (p.gap[1] + warm * p.gap[2])
        inner /= 1.0 + inner * p.half_inner
        load, load_slope = table(p.load_steady, (angle - p.load_angle) / p.load_step)
        load_slope /= p.load_step
        links = np.concatenate([[inner], p.wall_conductance])
        h, T, t, e, f = heater, cells.copy(), tau.copy(), strain, angle
        for turn in range(ROUNDS):
            g, x, _ = law(t, T, xi, gamma, a)
            g_t, x_t, _ = law(t + 1e2, T, xi, gamma, a)
            g_T, x_T, _ = law(t, T + 1e-5, xi, gamma, a)
            g_t, x_t = (g_t - g) / 1e2, (x_t - x) / 1e2
            g_T, x_T = (g_T - g) / 1e-5, (x_T - x) / 1e-5
            miss = p.wall_ratio * e - g
            stiff = volume * (e - strain) / g_t
            soft = x_t / g_t
            own = (p.cell_capacity - p.cell_latent * (x_T - soft * g_T) + stiff * g_T) / STEP
            stored = p.cell_capacity * (T - cells) - p.cell_latent * (x - xi + soft * miss)
            rest = (volume * t * (e - strain) + stiff * miss - stored) / STEP
            by = (p.cell_latent * soft * p.wall_ratio + stiff * p.wall_ratio + volume * t) / STEP
            nodes = np.concatenate([[h], T])
            flow = links * (nodes[:-1] - nodes[1:])
            matrix = np.diag(np.concatenate([[p.heater_capacity / STEP], own]))
            for place, link in enumerate(links):
                matrix[place : place + 2, place : place + 2] += link * np.array([[1, -1], [-1, 1]])
            matrix[-1, -1] += outer
            right = np.concatenate([[watts - p.heater_capacity / STEP * (h - heater)], rest])
            right[:-1] -= flow
            right[1:] += flow
            right[-1] -= outer * (T[-1] - bay)
            both = np.linalg.solve(matrix, np.stack([right, np.concatenate([[0.0], by])], axis=1))
            t0, t1 = (miss - g_T * both[1:, 0]) / g_t, (p.wall_ratio - g_T * both[1:, 1]) / g_t
            m0, m1, mean = p.wall_share @ t0, p.wall_share @ t1, p.wall_share @ t
            turned = np.tanh(mean / 0.5e6)
            gives = p.strain_per_twist * (p.compliance * mean + 0.5 * p.lash * turned)
            yields = p.strain_per_twist * (p.compliance + p.lash * (1 - turned**2) / 1e6)
            kinematic = p.strain_per_twist * (
                p.pre_twist[0] - p.gear_ratio * side * (f - p.start_angle[0])
            )
            gap = kinematic - gives - e
            ease = 1.0 / (1.0 + yields * m1)
            e0, e1 = (gap - yields * m0) * ease, -side * p.gear_ratio * p.strain_per_twist * ease
            heavy, moved = p.inertia / STEP**2 + p.damping / STEP, f - angle
            passive = load + (load_slope - heavy) * moved + p.inertia * rate / STEP
            nets = []
            for way in (1.0, -1.0):
                kept = (
                    side * arm * (1 - p.drive_loss if side * mean * way >= 0 else 1 + p.drag_loss)
                )
                nets.append(
                    (
                        passive + kept * (mean + m0 + m1 * e0),
                        max(heavy - load_slope - kept * m1 * e1, 1e-3 * arm * 1e8),
                    )
                )
            (up, up_slope), (down, down_slope) = nets
            if moved > 0 or (moved == 0 and up > 0):
                target = max(f + np.clip(up / up_slope, -0.03, 0.03), angle)
            elif moved < 0 or down < 0:
                target = min(f + np.clip(down / down_slope, -0.03, 0.03), angle)
            else:
                target = f
            change = min(max(target, p.stop_low), p.stop_high) - f
            along = e0 + e1 * change
            off = max(np.max(np.abs(right)) * STEP / 50.0, np.max(np.abs(miss)) / 0.01, abs(change))
            part = 1.0 if turn < CALM_ROUNDS or off < 1e-7 else 0.5 if turn < SLOW_ROUNDS else 0.25
            h = h + part * (both[0, 0] + both[0, 1] * along)
            T = T + part * (both[1:, 0] + both[1:, 1] * along)
            t, e, f = t + part * (t0 + t1 * along), e + part * along, f + part * change
            if off < 1e-7:
                break
        else:
            raise ArithmeticError(f"scalar loop: a step is not solved, {off:.1e} off")
        to_bay = outer * (T[-1] - bay) * p.count[0]
        bay = (p.bay_capacity / STEP * bay + to_bay + p.bay_conductance * p.outside_temperature) / (
            p.bay_capacity / STEP + p.bay_conductance
        )
        _, xi, gamma = law(t, T, xi, gamma, a)
        stopped = f <= p.stop_low or f >= p.stop_high
        rate = 0.0 if stopped else (f - angle) / STEP
        heater, cells, tau, strain, angle = h, T, t, e, f
    return angle, float(cells[size - 1])


def main() -> None:
    folds, lanes_wanted, scalar_steps = (
        int(sys.argv[place]) if len(sys.argv) > place else default
        for place, default in ((1, 10_000), (2, 2560), (3, 600))
    )
    wing = sized_wing()
    plan = wing.plan
    command = make_command(plan, wing.motion, 0)
    course = command.course._replace(
        **{
            name: np.resize(getattr(command.course, name), STEPS)
            for name in ("angle", "rate", "way", "rests", "air", "mass", "voltage")
        }
    )
    controller, units = wing.controller(), drawn_units(folds, 1).to_dict("records")
    model, spent, ends = wing.model, [], []
    for first in range(0, folds, lanes_wanted):
        part = units[first : first + lanes_wanted]
        models = [unit_of(model, unit) for unit in part]
        starts = [wing.start(model)] * len(part)
        lanes = [
            Lane(one.plant, controller, 1.0 + unit["voltage"])
            for one, unit in zip(models, part, strict=True)
        ]
        if not spent:  # compile with one block
            from mdo.model.motion_run import run_lanes

            short = course._replace(
                **{
                    name: getattr(course, name)[:BLOCK]
                    for name in ("angle", "rate", "way", "rests", "air", "mass", "voltage")
                }
            )
            run_lanes(lanes, short, starts)
        began = time.perf_counter()
        seen = run_lanes(lanes, course, starts).seen
        spent.append(time.perf_counter() - began)
        ends.append(seen["fold_angle"][:, -1])
    start, watts = wing.start(model), float(model.plant.heater_power[0])
    began = time.perf_counter()
    scalar = scalar_loop(model.plant, start, watts, scalar_steps)
    scalar_spent = time.perf_counter() - began
    same = replay(model.plant, np.full((scalar_steps, 1), watts), start, time_step=STEP)
    per_step = scalar_spent / scalar_steps
    batch = sum(spent)
    print(json.dumps({
        "device": jax.devices()[0].platform, "folds": folds, "lanes": lanes_wanted, "steps": STEPS,
        "batch_s": round(batch, 2), "us_per_fold_step": round(1e6 * batch / folds / STEPS, 3),
        "scalar_us_per_step": round(1e6 * per_step, 1),
        "ratio": round(per_step * folds * STEPS / batch, 1),
        "scalar_angle_off_deg": float(np.degrees(scalar[0] - float(same.fold_angle[-1]))),
        "scalar_kelvin_off": scalar[1] - float(same.sensor_temperature[-1, 0]),
        "angle_median_deg": float(np.degrees(np.median(np.concatenate(ends)))),
    }))  # fmt: skip


if __name__ == "__main__":
    main()
