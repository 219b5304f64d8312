"""Starting designs from the count problem.

Given a tube, a stress and a strain, the counts of the two sets are a linear problem: each set must
carry its loads and drag the other, ``N_i >= b_i + k_i N_j``, with a solution only if
``k_up k_down < 1`` (sizing notes, item 6). The rest of the design follows in closed form.
"""

from __future__ import annotations

from typing import Any, NamedTuple
from weakref import WeakKeyDictionary

import numpy as np

from mdo.arrays import Booleans, Floats
from mdo.model.layout import join_design
from mdo.model.system import OBJECTIVE
from mdo.optimise.problem import DesignProblem

# Ranges that the Sobol points fill: outer radius [m] and stress [Pa] in the logarithm.
RADIUS = (0.0016, 0.018)
WALL = (0.3, 0.5)
STRAIN = (0.010, 0.040)
STRESS = (50e6, 130e6)
LEAST_CANDIDATES = 32
PER_START = 4  # candidates per start asked for
RESIDUAL = 0.2  # share of the strain left at the end of the travel
CHORD_SHARE = 0.6  # longest tube over the chord at the fold
FEW = 0.01  # tubes of a probe: its own weight does not load the wing
MOST = 1e4
PROBED = (
    "heated", "pushes_up", "transmission_efficiency", "factored_moment", "rated_moment",
    "internal_moment", "cold_moment",
)  # fmt: skip


class Start(NamedTuple):
    """A starting design and how promising it is (mass times one plus its worst violation)."""

    design: Floats
    score: float


_KNOWN: WeakKeyDictionary[DesignProblem, dict[int, list[Start]]] = WeakKeyDictionary()


def least_counts(values: dict[str, Any]) -> tuple[Floats, Booleans]:
    """Least counts of the two sets of many problems, shape (n, 2), and which of them have any.

    Parameters
    ----------
    values : :data:`PROBED` of each problem with :data:`FEW` tubes, the problem first
    """
    up, heated = values["pushes_up"] > 0.5, values["heated"] > 0.5
    rated = values["rated_moment"]
    per_tube = np.where(up, rated[:, :1], rated[:, 1:])[:, :, None]
    demand = values["factored_moment"] + values["internal_moment"] - values["cold_moment"]
    base = demand / per_tube
    coupling = (values["cold_moment"] / FEW / per_tube).reshape(len(up), 1, -1)
    masks = np.stack([heated & up, heated & ~up], axis=1)[:, :, :, None]
    stacked = np.where(masks, base[:, None], -np.inf).reshape(len(up), 2, -1)
    return settle_counts(stacked, np.repeat(coupling, 2, axis=1))


def settle_counts(base: Floats, coupling: Floats) -> tuple[Floats, Booleans]:
    """Least counts with ``N_i >= max(base_i + coupling_i N_j)``, shape (n, 2), and which have any.

    Parameters
    ----------
    base, coupling : rows of each set with the problem first, shape (n, 2, rows); -inf base where
        a row does not count
    """
    counts = np.ones((len(base), 2))
    for _ in range(500):
        need = np.maximum(1.0, (base + coupling * counts[:, ::-1, None]).max(axis=2))
        settled = np.abs(need - counts).max(axis=1) < 1e-6 * need.max(axis=1)
        counts = np.minimum(need, MOST)
        if (settled | (counts.max(axis=1) >= MOST)).all():
            break
    return counts, settled & (counts.max(axis=1) < MOST)


def starting_designs(problem: DesignProblem, count: int) -> list[Start]:
    """Best starting designs of a Sobol sequence of tubes, stresses and strains, best first.

    The sequence is scrambled by the seed of the study; four candidates or more are looked at for
    each start asked for.

    Parameters
    ----------
    problem : the study
    count : how many to return
    """
    wanted = max(LEAST_CANDIDATES, PER_START * count)
    size = 1 << (wanted - 1).bit_length()  # Sobol sequences are balanced at powers of two
    known = _KNOWN.setdefault(problem, {})
    if size not in known:
        points = candidates(size, problem.study.seed)
        known[size] = sorted((start_from(problem, *p) for p in points), key=lambda s: s.score)
    return known[size][:count]


def candidates(size: int, seed: int) -> Floats:
    """Sobol points of outer radius [m], wall ratio, shear strain and stress [Pa], shape (size, 4).

    Parameters
    ----------
    size : a power of two
    seed : of the scrambling
    """
    from scipy.stats import qmc  # slow to import, not needed where a start is at hand

    shares = qmc.Sobol(4, scramble=True, rng=seed).random(size)
    radius = RADIUS[0] * (RADIUS[1] / RADIUS[0]) ** shares[:, 0]
    wall = WALL[0] + (WALL[1] - WALL[0]) * shares[:, 1]
    strain = STRAIN[0] + (STRAIN[1] - STRAIN[0]) * shares[:, 2]
    stress = STRESS[0] * (STRESS[1] / STRESS[0]) ** shares[:, 3]
    return np.column_stack([radius, wall, strain, stress])


def start_from(
    problem: DesignProblem, radius: float, wall: float, strain: float, stress: float
) -> Start:
    """One starting design: tube and stress given, the rest from closed forms."""
    probe = _probe(problem, radius, wall, strain, stress)
    values = problem.values(_vector(problem, probe), *PROBED)
    # the moment of a tube is that of the guess, which bounds have not clipped yet
    arm = (2.0 / 3.0) * np.pi * radius**3 * (1.0 - (1.0 - wall) ** 3)
    per_tube = probe["gear_ratio"] * float(values["transmission_efficiency"]) * arm * stress
    guessed = {name: np.asarray(value)[None] for name, value in values.items()}
    counts, exist = least_counts(guessed | {"rated_moment": np.full((1, 2), per_tube)})
    probe["tube_count"] = counts[0] if exist[0] else np.array([20.0, 20.0])
    probe["heater_power"] = 50.0 * probe["tube_count"]
    for _ in range(2):
        probe["heater_power"] = _power(problem, probe)
    design = _vector(problem, probe)
    values = problem.values(design, OBJECTIVE, *problem.chain.row_names)
    worst = max(0.0, -float(problem.rows_of(values)[problem.counting].min()))
    return Start(design, float(values[OBJECTIVE]) * (1.0 + worst) * (1.0 if exist[0] else 10.0))


def _probe(
    problem: DesignProblem, radius: float, wall: float, strain: float, stress: float
) -> dict[str, Any]:
    """Everything but counts and power of a starting design."""
    parameters = problem.assembled.parameters
    alloy, wanted = parameters["alloy"], parameters["requirements"]
    inner = radius * (1.0 - wall)
    effective = (2.0 / 3.0) * (radius**3 - inner**3) / (radius**2 - inner**2)
    chord = CHORD_SHARE * float(parameters["planform"].fold_chord)
    length = min(2.0 * radius * 0.95 * wanted.length_to_diameter_max, chord)
    travel = float(problem.prelude["travel_high"]) - float(problem.prelude["travel_low"])
    twist = strain * length / effective
    geared = int(parameters["choices"].topology) == 2
    # a first guess of the shift of Af by stress; the optimiser moves the temperature from there
    shift = 3.0**0.5 * stress / (alloy.austenite_slope * alloy.slope_factor)
    low, high = parameters["legs"].angle_from, parameters["legs"].angle_to
    steady = np.asarray(problem.prelude["steady_moment_low"])[: len(low)]
    moment = float(np.abs(steady).max()) + 1.0
    return {
        "tube_outer_radius": radius,
        "wall_ratio": wall,
        "tube_length": length,
        "tube_count": np.array([FEW, FEW]),
        "operating_stress": np.array([stress, stress]),
        "gear_ratio": twist * (1.0 - RESIDUAL) / travel if geared else 1.0,
        "pre_twist": np.full(2, twist if geared else travel * (1.0 + RESIDUAL)),
        "heater_power": np.array([1.0, 1.0]),
        "hot_temperature": float(alloy.austenite_finish) + shift + 3.0,
        "insulation_thickness": 0.0005,
        "spring_moment": moment,
        "spring_rate": 0.1 * moment / max(float(np.abs(high - low).max()), 0.1),
    }


def _vector(problem: DesignProblem, values: dict[str, Any]) -> Floats:
    """Design vector within the bounds (probes with few tubes excepted), frozen values kept."""
    probing = float(np.min(values["tube_count"])) < 1.0
    probed = np.array([probing and "tube_count" in label for label in problem.labels])
    x = np.clip(join_design(values), np.where(probed, 0.0, problem.lower), problem.upper)
    return np.where(np.isnan(problem.frozen), x, problem.frozen)


def _power(problem: DesignProblem, probe: dict[str, Any]) -> Floats:
    """Heater power of each set that meets nine tenths of its time limits, by proportion."""
    legs = problem.assembled.parameters["legs"]
    values = problem.values(_vector(problem, probe), "heated", "pushes_up", "heat_time")
    moves = (np.asarray(legs.moves) > 0.5) & (values["heated"] > 0.5)
    power = np.array(probe["heater_power"], dtype=float)
    for side, mask in enumerate((values["pushes_up"] > 0.5, values["pushes_up"] <= 0.5)):
        used = moves & mask
        if used.any():
            ratio = values["heat_time"][used, side] / (0.9 * np.asarray(legs.time_limit)[used])
            power[side] *= np.clip(ratio.max(), 0.05, 20.0)
    return power
