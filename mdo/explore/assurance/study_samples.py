"""Rows of a design of a study in every sample, and their exact slopes.

Evaluated in blocks of lanes, each with its own parameters and with what follows from them alone
(loads too): nothing is extrapolated.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from mdo.arrays import Floats, Indices
from mdo.defend.uncertain import Uncertain, directions, of_inputs
from mdo.explore.assurance.judged import values_at
from mdo.explore.assurance.local import Nominal, NominalSlopes, Sampled
from mdo.explore.assurance.quantile import FAR, deviations
from mdo.explore.assurance.trimming import best_settings
from mdo.model.layout import LOGARITHMIC, STEPS
from mdo.optimise.axes import Parameters, ParametricProblem
from mdo.optimise.batch.functions import placed
from mdo.optimise.blocks import block_size, in_blocks
from mdo.optimise.many.model import Lane, least_mass, many_model
from mdo.optimise.many.points import WIDE, WIDTH
from mdo.optimise.problem import DesignProblem

AS_BUILT = ("heater_power",)  # of what can be trimmed: no more than the hardware is sized for
TRIMMED_TO = 0.5  # deviations from the limit within which a sample is trimmed
ROUGHLY = 1e-2  # deviation of a row from which its size counts in a trim


class StudySamples:
    """A study whose judged inputs are known only as samples.

    Parameters
    ----------
    problem : the study
    inputs : what is judged
    """

    def __init__(self, problem: DesignProblem, inputs: Sequence[Uncertain]) -> None:
        self.problem, self.inputs = problem, tuple(inputs)
        self.places = np.flatnonzero(problem.active)
        self.model = many_model(problem.chain, self.places)
        self.directions = directions(problem, self.inputs)
        self.parametric = ParametricProblem(problem, ())
        trimmed = problem.study.analysis.assurance.trimmed
        names = [problem.labels[place].partition(".")[0] for place in self.places]
        self.trimmed = np.flatnonzero(np.isin(names, trimmed))
        self.as_built = np.isin(names, AS_BUILT)
        self.width = block_size(WIDTH, WIDE)
        self.stretch = of_inputs(self.inputs, "stretch")

    def theta(self, steps: Floats) -> Floats:
        """Parameters at steps of the inputs, shape (samples, parameters)."""
        moved = values_at(self.inputs, steps) - of_inputs(self.inputs, "value")
        return np.asarray(self.problem.theta) + moved @ self.directions

    def parameters(self, steps: Floats) -> Parameters:
        """The same with what follows from them alone, and the rows that count."""
        return self.of_theta(self.theta(steps))

    def of_theta(self, theta: Floats) -> Parameters:
        """Parameters of many samples with what follows from them alone."""
        prelude = self.parametric.preludes(theta)
        return Parameters(theta, prelude, self.parametric.counts(theta, prelude))

    def design(self, z: Floats) -> Floats:
        """Design vector of the scaled variables that move."""
        scaled = self.problem.scale(self.problem.clip(self.problem.lower))
        scaled[self.places] = z
        return self.problem.clip(self.problem.unscale(scaled))

    def scaled(self, design: Floats) -> Floats:
        """Scaled variables of a design."""
        return self.problem.scale(design)[self.places]

    @property
    def bounds(self) -> tuple[Floats, Floats]:
        """Of the scaled variables."""
        return self.scaled(self.problem.lower), self.scaled(self.problem.upper)

    def nominal(self, z: Floats, kept: Indices) -> Nominal:
        """Mass and some of the rows at the study's values."""
        problem = self.problem
        point = problem.chain.point(self.design(z), problem.theta, problem.prelude)
        return Nominal(float(point.objective), np.asarray(point.rows)[kept])

    def nominal_slopes(self, z: Floats, kept: Indices) -> NominalSlopes:
        """Their slopes in the scaled variables."""
        problem, x = self.problem, self.design(z)
        _, slope = problem.chain.point_and_gradient(x, problem.theta, problem.prelude)
        stretch = np.where(LOGARITHMIC, x, STEPS)[self.places]
        return NominalSlopes(
            np.asarray(slope.objective)[self.places] * stretch,
            np.asarray(slope.rows)[kept][:, self.places] * stretch,
        )

    def sampled(
        self, parameters: Parameters, settings: Floats | None = None
    ) -> tuple[Sampled, Indices]:
        """What is to be sized over samples, and which of all rows its rows are.

        Parameters
        ----------
        parameters : of the samples
        settings : of the variables that are trimmed, in each sample, from those of the design
        """
        kept = np.flatnonzero(parameters.counts.any(axis=0) | self.problem.rows.counts)
        counts = parameters.counts[:, kept]
        lower, upper = self.bounds
        moved = np.zeros((len(counts), self.places.size))
        if settings is not None:
            moved[:, self.trimmed] = settings

        def rows(z: Floats, at: Indices) -> Floats:
            found = self.rows(np.clip(z + moved[at], lower, upper), parameters.take(at), kept)
            return np.where(counts[at], found, FAR)

        def slopes(z: Floats, at: Indices) -> Floats:
            found = self.slopes(np.clip(z + moved[at], lower, upper), parameters.take(at), kept)
            return np.where(counts[at][:, :, None], found, 0.0)

        own = Sampled(
            lambda z: self.nominal(z, kept),
            lambda z: self.nominal_slopes(z, kept),
            rows, slopes, len(counts), lower, upper,
        )  # fmt: skip
        return own, kept

    def settings(self, z: Floats, parameters: Parameters, start: Floats | None = None) -> Floats:
        """Settings of the trimmed variables, from those of a design, best for each sample.

        Samples that hold with room to spare keep theirs. The hardware is as built: what it is sized
        for, such as the power of a heater, can only be turned down.
        """
        own = np.zeros((len(parameters.theta), self.trimmed.size)) if start is None else start
        every = np.arange(len(own))
        rows = self.sampled(parameters, own)[0].rows(z, every)
        deviation = np.maximum(deviations(rows), ROUGHLY)
        short = np.flatnonzero((rows / deviation).min(axis=1) < TRIMMED_TO)
        if not short.size:
            return own

        def sampled(settings: Floats) -> Sampled:
            moved = own.copy()
            moved[short] = settings
            return self.sampled(parameters, moved)[0]

        low, high = (bound - z for bound in self.bounds)
        high = np.where(self.as_built, 0.0, high)
        found = own.copy()
        found[short] = best_settings(
            lambda settings: sampled(settings).rows(z, short) / deviation,
            lambda settings: (
                sampled(settings).slopes(z, short)[:, :, self.trimmed] / deviation[:, None]
            ),
            own[short], low[self.trimmed], high[self.trimmed],
        )  # fmt: skip
        return found

    def rows(self, z: Floats, parameters: Parameters, kept: Indices) -> Floats:
        """Rows of one design, or of one for each sample, shape (samples, kept)."""

        def evaluated(places: Indices) -> Any:
            return self.model.values(*self._lanes(z, parameters, places)).c[:, kept]

        found = in_blocks(evaluated, len(parameters.theta), self.width)
        return np.where(np.isfinite(found), found, -FAR)

    def slopes(self, z: Floats, parameters: Parameters, kept: Indices) -> Floats:
        """Their slopes in the scaled variables, shape (samples, kept, variables)."""

        def evaluated(places: Indices) -> Any:
            return self.model.slopes(*self._lanes(z, parameters, places))[1].J[:, kept]

        found = in_blocks(evaluated, len(parameters.theta), self.width)
        return np.where(np.isfinite(found), found, 0.0)

    def _lanes(self, z: Floats, parameters: Parameters, places: Indices) -> tuple[Any, Lane]:
        """Designs in lanes, with the parameters of some samples."""
        theta, prelude, _ = parameters.take(places)
        goal = least_mass(len(places), 1.0)
        own = np.broadcast_to(z, (len(parameters.theta), z.shape[-1]))[places]
        x = np.tile(self.design(own[0]), (len(places), 1))
        return own, placed(Lane(x, theta, prelude, *goal))

    def input_slopes(self, z: Floats, steps: Floats, kept: Indices) -> Floats:
        """Exact slopes of rows by every input in its even variable, shape (inputs, kept).

        Parameters
        ----------
        z, kept : the design, and which rows
        steps : of the inputs at which the slopes are taken, shape (inputs,)
        """
        theta = self.theta(steps[None])[0]
        even = np.array([one.logarithmic for one in self.inputs])
        stretch = self.stretch * np.where(even, np.exp(np.where(even, steps, 0.0)), 1.0)
        chain, along = self.problem.chain, self.directions * stretch[:, None]
        prelude = chain.prelude(theta)
        found = chain.slopes(self.design(z), theta, prelude, along).rows[:, kept]
        return np.where(np.isfinite(found), found, 0.0)
