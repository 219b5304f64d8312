"""How often intervals of inputs fitted to made logs of a moving bench hold the truth.

    python benchmarks/coverage.py RESULT [SEEDS]

RESULT: folder of a stored `optimum` of a bench. Each seed is a log of its own motion with 1 %
noise, made with four inputs off their values by 40 % of half their range, fitted by the same level.
Some 8 s of CPU a seed.
"""

from __future__ import annotations

import argparse

import numpy as np

from mdo.bench import assembly
from mdo.bench.fit import fit
from mdo.bench.made_log import Faults, made_of
from mdo.results.opening import open_result
from mdo.run.rebuild import stored_appraisal

FITTED = ("martensite_start", "film_factor", "load_factor", "gap_factor")
OFF = 0.4  # of half the range; towards the middle where the value stands at an end of it
SAMPLES = 400  # of a log


def main() -> None:
    """Print the shares of all intervals, input by input, and the largest error held out."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("result")
    parser.add_argument("seeds", type=int, nargs="?", default=100)
    given = parser.parse_args()
    assembly.DEMONSTRATION = SAMPLES
    with stored_appraisal(open_result(given.result)) as appraisal:
        replay = assembly.replay_of(appraisal, assembly.demonstration(appraisal))
    places = [[one.name for one in replay.parameters].index(name) for name in FITTED]
    truth, signs = replay.nominal.copy(), np.random.default_rng(7)
    for place in places:
        one = replay.parameters[place]
        step = OFF * one.spread
        inside = one.low < one.value - step and one.value + step < one.high
        middle = one.low + 0.6 * (one.high - one.low)
        truth[place] = one.value + step * signs.choice([-1, 1]) if inside else middle
    holds, ratios = [], []
    for seed in range(given.seeds):
        found = fit(replay.beside(made_of(replay, truth, Faults(noise=0.01), seed=seed)), FITTED)
        pairs = zip(found.fitted, truth[places], strict=True)
        holds.append([one.low <= value <= one.high for one, value in pairs])
        ratios.append(found.held_out_error / found.error)
        each = ", ".join(
            f"{name} {share:.1%}" for name, share in zip(FITTED, np.mean(holds, 0), strict=True)
        )
        print(f"{seed + 1} logs: {np.mean(holds):.2%} of the intervals hold ({each}); "
              f"error held out over fitted {max(ratios):.3f} at most")  # fmt: skip


if __name__ == "__main__":
    main()
