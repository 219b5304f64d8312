"""A study as an optimisation problem: variables, bounds, rows that count, compiled chain."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, ClassVar, NamedTuple

import jax
import numpy as np

from mdo.arrays import Booleans, Floats, Indices
from mdo.disciplines.levels import Levels
from mdo.model.chain import Chain
from mdo.model.correction import NAME as CORRECTION
from mdo.model.correction import Correction, no_correction
from mdo.model.kept import remembered, use_persistent_cache
from mdo.model.layout import LOGARITHMIC, SET_NAMES, SMALLEST, STEPS, design_labels
from mdo.model.requirements import ANGLES, STATICS
from mdo.model.rows import RowIndex, RowLabel, names_read
from mdo.model.sizes import emptied, filled
from mdo.model.system import FIGURES, OBJECTIVE, REPORT_ONLY, ROWS, declare_system
from mdo.optimise.variables import active_variables, bounds_of
from mdo.study.assemble import Assembled, assemble
from mdo.study.study import Study


class Evaluated(NamedTuple):
    """Objective, rows that count, and their derivatives in the scaled active variables."""

    objective: float
    rows: Floats
    objective_slope: Floats
    row_slopes: Floats


class Fixed(NamedTuple):
    """What a design in whole tubes has fixed.

    Attributes
    ----------
    sizes
        Values of design variables (SI), by label.
    fields
        Fields of parameter records (SI), by record: wire and sheet.
    """

    sizes: Mapping[str, float]
    fields: Mapping[str, Mapping[str, float]]

    def among(self, parameters: Mapping[str, Any]) -> dict[str, Any]:
        """Parameters with the fields of the records that are fixed."""
        own = {name: parameters[name]._replace(**of) for name, of in self.fields.items()}
        return {**parameters, **own}


COMPARED = frozenset({*names_read(), "torque_margin"})
_CHAINS: dict[tuple[object, ...], Chain] = {}


def chain_for(parameters: Mapping[str, Any], levels: Levels) -> Chain:
    """Compiled chain for parameters of these sizes; one compile serves every study of the sizes."""
    corrected = CORRECTION in parameters
    shapes = (np.shape(leaf) for leaf in jax.tree.leaves(filled(parameters)))
    key = (levels, corrected, *shapes)
    if key not in _CHAINS:
        use_persistent_cache()
        _CHAINS[key] = Chain(
            declare_system(levels=levels, corrected=corrected), parameters, objective=OBJECTIVE,
            rows=ROWS, report_only=REPORT_ONLY, figures=FIGURES, fit=filled,
        )  # fmt: skip
    return _CHAINS[key]


@dataclass(frozen=True, eq=False)
class DesignProblem:
    """A study ready to be evaluated and optimised.

    Attributes
    ----------
    study, assembled
        The study and its numbers.
    chain
        Compiled functions.
    theta, prelude
        Parameters as a vector, and what follows from them alone.
    lower, upper
        Bounds of the design vector.
    frozen
        Value of each variable that the study freezes, NaN elsewhere.
    active
        Variables that the optimiser moves: present sets, springs where there is one, gear ratio
        where there are gears, nothing frozen.
    rows
        Labels of all rows and which count.
    card_fields
        Numbers of the alloy card that were changed (SI), by field.
    fixed
        What is fixed of a design in whole tubes; None while counts are free.
    """

    study: Study
    assembled: Assembled
    chain: Chain
    theta: Any
    prelude: Mapping[str, Any]
    lower: Floats
    upper: Floats
    frozen: Floats
    active: Booleans
    rows: RowIndex
    card_fields: Mapping[str, float]
    fixed: Fixed | None = None
    labels: ClassVar[tuple[str, ...]] = design_labels()  # of the entries of the design vector

    @cached_property
    def counting(self) -> Indices:
        """Positions of the rows that count in the full row vector."""
        return np.flatnonzero(self.rows.counts)

    @cached_property
    def counting_labels(self) -> tuple[RowLabel, ...]:
        """Labels of the rows that count."""
        return tuple(self.rows.labels[i] for i in self.counting)

    def scale(self, x: Floats) -> Floats:
        """Scaled variables: logarithms, or steps of the few linear ones."""
        return np.where(LOGARITHMIC, np.log(np.maximum(x, SMALLEST)), x / STEPS)

    def unscale(self, z: Floats) -> Floats:
        """Design vector of scaled variables."""
        powers = np.exp(np.where(LOGARITHMIC, z, 0.0))
        return np.where(LOGARITHMIC, powers, z * STEPS)

    def clip(self, x: Floats) -> Floats:
        """Nearest design within the bounds."""
        return np.clip(x, self.lower, self.upper)

    def with_theta(self, theta: Any) -> DesignProblem:
        """Problem with other parameters; its study is the unchanged one."""
        return replace(self, theta=theta, prelude=self.chain.prelude(theta))

    def with_parameters(self, parameters: Mapping[str, Any]) -> DesignProblem:
        """Problem with other parameters, and the rows that count with them."""
        made = self.with_theta(self.chain.pack(parameters))
        assembled = replace(self.assembled, parameters=parameters)
        rows = self.chain.row_index(parameters, made.prelude)
        return replace(made, assembled=assembled, rows=rows)

    def corrected_by(self, correction: Correction) -> DesignProblem:
        """Problem with other numbers of its correction, which the prelude does not read."""
        parameters = {**self.assembled.parameters, CORRECTION: correction}
        assembled = replace(self.assembled, parameters=parameters)
        return replace(self, assembled=assembled, theta=self.chain.pack(parameters))

    def bounded(self, lower: Floats, upper: Floats) -> DesignProblem:
        """Problem with other bounds (SI); a variable whose bounds meet is frozen there."""
        met = upper <= lower
        frozen = np.where(np.isnan(self.frozen) & met, lower, self.frozen)
        return replace(self, lower=lower, upper=upper, frozen=frozen, active=self.active & ~met)

    def freezing(self, values: Mapping[int, float]) -> DesignProblem:
        """Problem with variables, by position in the design vector, frozen at values (SI)."""
        lower, upper = self.lower.copy(), self.upper.copy()
        for at, value in values.items():
            lower[at] = upper[at] = value
        return self.bounded(lower, upper)

    def fixing(self, whole: Fixed | None) -> DesignProblem:
        """Problem with what a design in whole tubes fixes, nothing for None.

        Wire and sheet do not go through the study: its ranges are those of judged assumptions.
        """
        if whole is None:
            return self
        own = whole.among(self.assembled.parameters)
        made = self.with_parameters(own) if whole.fields else self
        sizes = {made.labels.index(label): value for label, value in whole.sizes.items()}
        return replace(made.freezing(sizes), fixed=whole)

    @property
    def correction(self) -> Correction | None:
        """Numbers of its correction; None where nothing is corrected."""
        return self.assembled.parameters.get(CORRECTION)

    def evaluate(self, x: Floats) -> Evaluated:
        """Objective and counting rows with derivatives in the scaled active variables.

        The last designs are remembered: each step of an optimisation begins where one ended.
        """
        key = np.asarray(x, dtype=float).tobytes()
        found: Evaluated = remembered(self._evaluated, key, lambda: self._evaluate(x))
        return found

    @cached_property
    def _evaluated(self) -> dict[bytes, Evaluated]:
        return {}

    def _evaluate(self, x: Floats) -> Evaluated:
        point, gradient = self.chain.point_and_gradient(x, self.theta, self.prelude)
        stretch = np.where(LOGARITHMIC, x, STEPS)
        slope = np.asarray(gradient.objective) * stretch
        rows, jacobian = (np.asarray(each.rows)[self.counting] for each in (point, gradient))
        slopes = (jacobian * stretch)[:, self.active]
        return Evaluated(float(point.objective), rows, slope[self.active], slopes)

    def values_only(self, x: Floats) -> tuple[float, Floats]:
        """Objective and counting rows without derivatives.

        By the function that gives all outputs: a run needs it anyway, and has one fewer to compile.
        """
        values = self.values(x, self.chain.objective_name, *self.chain.row_names)
        return float(values[self.chain.objective_name]), self.rows_of(values)[self.counting]

    def compile_ahead(self) -> threading.Thread:
        """Compile the derivatives in a thread, beside whatever compiles or runs meanwhile.

        Compiling them takes most of the time of a first run and leaves the interpreter free.
        """
        middle = self.unscale((self.scale(self.lower) + self.scale(self.upper)) / 2.0)
        thread = threading.Thread(target=self.evaluate, args=(middle,), daemon=True)
        thread.start()
        return thread

    def values(self, x: Floats, *names: str) -> dict[str, Floats]:
        """Outputs of the system at a design as numpy arrays: those named, or all."""
        return self.values_with(x, self.theta, *names)

    def compared(self, x: Floats) -> dict[str, Floats]:
        """What levels of fidelity are compared by, of the outputs that a design variable reaches.

        Much less to compile than all outputs, of which courses in time take most.
        """
        outputs = self.chain.values_of(COMPARED)(x, self.theta, self.prelude)
        return self._emptied({**self.prelude, **outputs})

    def values_with(self, x: Floats, theta: Any, *names: str) -> dict[str, Floats]:
        """Outputs at a design with other parameters of the same study: those named, or all."""
        prelude = self.prelude if theta is self.theta else self.chain.prelude(theta)
        outputs = {**prelude, **self.chain.values(x, theta, prelude)}
        return self._emptied({name: outputs[name] for name in names or sorted(outputs)})

    def _emptied(self, outputs: Mapping[str, Any]) -> dict[str, Floats]:
        parameters = self.assembled.parameters
        legs, statics = parameters["legs"].moves, parameters["statics"].state.moves
        return emptied(outputs, len(legs), len(statics))

    @cached_property
    def _row_places(self) -> dict[str, Indices]:
        """Positions of the rows of each requirement."""
        groups = np.array([label.group for label in self.rows.labels])
        return {name: np.flatnonzero(groups == name) for name in self.chain.row_names}

    def rows_of(self, values: Mapping[str, Floats]) -> Floats:
        """All rows of evaluated values, in the order of the labels; those that only fill are 1."""
        rows = np.ones(len(self.rows.labels))
        for name, places in self._row_places.items():
            own = np.ravel(values[name])
            rows[places[: own.size]] = own
        return rows

    def describe(self, label: RowLabel) -> str:
        """Words for a row: what it demands, in which leg, at which angle, of which set."""
        entry = label.requirement
        where = []
        if entry.over == STATICS:
            where.append(self.assembled.statics[label.leg].label)
        elif label.leg >= 0:
            where.append(self.assembled.legs[label.leg].label)
        if entry.over == ANGLES:
            angle = self.assembled.parameters["fold_angle"][label.leg, label.angle]
            where.append(f"{np.degrees(angle):.0f} deg")
        if label.side >= 0:
            where.append(f"{SET_NAMES[label.side]} set")
        return entry.title + (f" ({', '.join(where)})" if where else "")


def make_problem(study: Study) -> DesignProblem:
    """Assemble a study and compile its chain (lazily: compiling happens at the first evaluation).

    Raises
    ------
    StudyError
        If the alloy card or a table of loads does not serve.
    """
    return problem_of(study, {})


def parameters_of(
    study: Study,
    card_fields: Mapping[str, float],
    correction: Correction | None = None,
    fixed: Fixed | None = None,
) -> Floats:
    """Parameters (theta) of the problem that :func:`problem_of` makes, and nothing that follows.

    What it would solve of the loads takes ten times as long as they do.
    """
    parameters = _assembled(study, card_fields, correction).parameters
    if fixed is not None:
        parameters = fixed.among(parameters)
    return chain_for(parameters, study.fidelity.optimise).pack(parameters)


def _assembled(
    study: Study, card_fields: Mapping[str, float], correction: Correction | None
) -> Assembled:
    assembled = assemble(study)
    parameters = dict(assembled.parameters)
    if study.fidelity.correct:
        parameters[CORRECTION] = correction or no_correction(filled(parameters))
    if card_fields:
        parameters["alloy"] = parameters["alloy"]._replace(**card_fields)
    return replace(assembled, parameters=parameters)


def problem_of(
    study: Study,
    card_fields: Mapping[str, float],
    correction: Correction | None = None,
    fixed: Fixed | None = None,
) -> DesignProblem:
    """Problem of a study with numbers of its alloy card changed (SI, by field).

    Parameters
    ----------
    study : the study
    card_fields : numbers of the card
    correction : where the study corrects rows: its numbers, from a neighbour; else none yet
    fixed : what is fixed of a design in whole tubes
    """
    assembled = _assembled(study, card_fields, correction)
    chain = chain_for(assembled.parameters, study.fidelity.optimise)
    theta = chain.pack(assembled.parameters)
    prelude = chain.prelude(theta)
    lower, upper, frozen = bounds_of(study)
    if study.actuator.topology != "geared":  # without gears the tubes turn with the hinge
        frozen[design_labels().index("gear_ratio")] = 1.0
    free = np.isnan(frozen)
    made = DesignProblem(
        study=study, assembled=assembled, chain=chain, theta=theta, prelude=prelude,
        lower=np.where(free, lower, frozen), upper=np.where(free, upper, frozen), frozen=frozen,
        active=active_variables(assembled.parameters) & free,
        rows=chain.row_index(assembled.parameters, prelude), card_fields=card_fields,
    )  # fmt: skip
    return made.fixing(fixed)
