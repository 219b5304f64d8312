"""How well stored designs hold in time.

    python benchmarks/holds.py RESULT... [--brake] [--damper D] [--hold SECONDS] [--fold]

RESULT: folder of a stored `optimum`. Prints the figures of docs/motion.md: ten holds from a cold
start of the nominal unit and of 16 corners of two standard deviations of all that scatters (of the
64 those in which each pair of inputs meets in all four ways), margins of the loops, one step there
and back, and what the motion gives beside what sizing said. With --fold the units fold and return
in the times of the study instead of holding.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from itertools import product
from typing import Any

import numpy as np
import pandas as pd

from mdo.explore.motion.beside_sizing import beside_sizing
from mdo.explore.motion.commands import lane_figures, make_command
from mdo.explore.motion.motion import check
from mdo.explore.motion.wing import SPREAD, Wing, make_wing, unit_of
from mdo.model.motion_run import Lane
from mdo.optimise.problem import DesignProblem
from mdo.results.opening import open_result
from mdo.run.rebuild import stored_appraisal

NOMINAL = dict.fromkeys(SPREAD, 0.0)
DEGREES = ("steady_error", "ripple", "overshoot")


def corners() -> list[dict[str, float]]:
    """Sixteen corners: the signs of the last two inputs are products of those of others."""
    signs = (s for s in product((1, -1), repeat=6) if s[0] * s[1] * s[2] == s[4])
    return [
        {name: sign * width for (name, width), sign in zip(SPREAD.items(), s, strict=True)}
        for s in signs
        if s[1] * s[2] * s[3] == s[5]
    ]


def figures(wing: Wing, units: list[dict[str, float]], **plan: Any) -> tuple[pd.DataFrame, float]:
    """Figures of every unit and stage of a command, angles in degrees; and the ledger."""
    command = make_command(replace(wing.plan, **plan), wing.motion, 0)
    models = [unit_of(wing.model, unit) for unit in units]
    lanes = [
        Lane(model.plant, wing.controller(), 1.0 + unit["voltage"])
        for model, unit in zip(models, units, strict=True)
    ]
    courses = wing.run(lanes, command.course, models)
    seen, rows = courses.seen, []
    for k, _ in enumerate(units):
        for stage in command.stages:
            found = lane_figures(stage, seen, k)
            found |= {name: float(np.degrees(found[name])) for name in DEGREES}
            rows.append({"unit": k, "stage": stage.name, **found})
    return pd.DataFrame(rows), float(courses.ledger["residual"].max())


def damped(problem: DesignProblem, damper: float) -> DesignProblem:
    """Study with a damper at the hinge [N*m*s/rad]."""
    analysis = problem.study.analysis
    plan = replace(analysis.motion, damper=damper)
    return replace(problem, study=replace(problem.study, analysis=replace(analysis, motion=plan)))


def tell(folder: str, hold: float, damper: float, *, brake: bool, fold: bool) -> None:
    """Print the figures of one design."""
    result = open_result(folder)
    with stored_appraisal(result) as appraisal:
        problem = damped(appraisal.problem, damper)
        wing = make_wing(problem, dict(appraisal.design), dict(appraisal.values), check(problem))
    if brake:
        wing = replace(wing, settings=wing.settings._replace(brakes=1.0))
    loops = pd.DataFrame([state._asdict() for state in wing.rule.states])
    short = loops[(loops["gain_margin"] < 6.0) | (loops["phase_margin"] < 30.0)]
    print(
        f"== {result.manifest.study}: {appraisal.mass:.4g} kg, loops "
        f"{np.round(wing.rule.times, 2)} s, least {loops['gain_margin'].min():.3g} dB, "
        f"{loops['phase_margin'].min():.3g} deg; short in {len(short)} of {len(loops)} states, at "
        f"{np.round(np.degrees(sorted(set(short['angle'].round(3)))))} deg",
        flush=True,
    )
    step, ledger = figures(wing, [NOMINAL], command="cycles", hold=None if fold else 6.0 * hold)
    shown = ["stage", "settling_time", *DEGREES]
    print(f"step, ledger {ledger:.1e}\n{step[shown].round(3).to_string()}", flush=True)
    for row in beside_sizing(wing):
        print(f"  {row['quantity']}: {row['sized']:.4g} -> {row['moved']:.4g}, {row['ratio']:.3f}")
    for name, units in (("nominal", [NOMINAL]), ("corners", corners())):
        plan = {"command": "cycles"} if fold else {"command": "hold", "hold": hold}
        found, ledger = figures(wing, units, **plan)
        worst = found.groupby("stage", sort=False)
        shares = pd.DataFrame(
            {
                "least": worst["steady_error"].min(), "most": worst["steady_error"].max(),
                "overshoot": worst["overshoot"].max(), "settled": worst["settling_time"].max(),
                "never": worst["settling_time"].apply(lambda times: times.isna().mean()),
            }
        )  # fmt: skip
        beyond = found.groupby("unit")["steady_error"].apply(lambda e: e.abs().max() > 0.5).sum()
        print(
            f"{plan}, {name}: error {found['steady_error'].abs().max():.3f} deg, "
            f"overshoot {found['overshoot'].max():.3f} deg, {beyond} of {len(units)} beyond "
            f"0.5 deg, ledger {ledger:.1e}\n{shares.round(3).to_string()}",
            flush=True,
        )


def main() -> None:
    """Print the figures of every result named."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("results", nargs="+")
    parser.add_argument("--brake", action="store_true", help="held by a brake")
    parser.add_argument("--hold", type=float, default=500.0, help="seconds of each hold")
    parser.add_argument("--damper", type=float, default=0.0, help="at the hinge [N*m*s/rad]")
    parser.add_argument("--fold", action="store_true", help="fold and return instead")
    given = parser.parse_args()
    for folder in given.results:
        tell(folder, given.hold, given.damper, brake=given.brake, fold=given.fold)


if __name__ == "__main__":
    main()
