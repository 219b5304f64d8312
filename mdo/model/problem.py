"""The declared system as an OpenMDAO problem: one generic component serves every discipline.

For one design with full traceability (N2 diagram, recorders, a user's own components). Values and
total derivatives equal those of the compiled chain; a test holds the two.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
import openmdao.api as om
from numpy.typing import NDArray

from mdo.model.declaration import Discipline, System, split_prelude, split_stages
from mdo.model.layout import DESIGN_SIZES
from mdo.model.requirements import REQUIREMENTS
from mdo.quantities import QUANTITIES

# OpenMDAO's names for the units of the table that it spells differently.
UNIT_NAMES = {"1": None, "K": "degK"}


class Slot(NamedTuple):
    """A variable of a component: its name there, shape, and place in the flat vector."""

    name: str
    shape: tuple[int, ...]
    start: int
    stop: int


def slots(values: Mapping[str, Any]) -> list[Slot]:
    """Places of named arrays in one flat vector, in order."""
    places, at = [], 0
    for name, value in values.items():
        shape = np.shape(value)
        size = int(np.prod(shape, dtype=int))
        places.append(Slot(name, shape, at, at + size))
        at += size
    return places


def flat_names(discipline: Discipline, known: Mapping[str, Any]) -> dict[str, Any]:
    """Inputs of a discipline by OpenMDAO name: quantities, and ``record:field`` for records."""
    inputs = {name: known[name] for name in discipline.quantities}
    for record in discipline.records:
        inputs |= dict(leaves(record, known[record]))
    return inputs


def leaves(prefix: str, record: Any) -> list[tuple[str, Any]]:
    """Fields of a record (and of records within it) by OpenMDAO name."""
    paths, _ = jax.tree_util.tree_flatten_with_path(record)
    return [(":".join([prefix, *(key.name for key in path)]), value) for path, value in paths]


def rebuild(prefix: str, template: Any, values: Mapping[str, Any]) -> Any:
    """Record of the template's kind from flat values."""
    own = [values[name] for name, _ in leaves(prefix, template)]
    return jax.tree.unflatten(jax.tree.structure(template), own)


class DisciplineComponent(om.ExplicitComponent):
    """Any discipline as a component; derivatives by JAX in the inputs that a design can change."""

    def initialize(self) -> None:
        """Declare the options."""
        self.options.declare("discipline", types=tuple, desc="declaration of the discipline")
        self.options.declare("known", desc="sample values of all inputs: names, shapes, starts")
        self.options.declare("varying", types=(set, frozenset), desc="inputs that may change")

    def setup(self) -> None:
        """Add variables from the declaration and compile."""
        item: Discipline = self.options["discipline"]
        known = self.options["known"]
        inputs = flat_names(item, known)
        self._in_slots = slots(inputs)
        for name, value in inputs.items():
            self.add_input(name, val=np.asarray(value, dtype=float), **described(name))
        outputs = jax.eval_shape(lambda: self._named(_join(inputs)))
        # eval_shape sorts the names; the flat vector keeps the order of the declaration
        sample = {name: np.zeros(outputs[name].shape) for name in item.outputs}
        self._out_slots = slots(sample)
        for name, value in sample.items():
            self.add_output(name, val=value, **described(name))
        varying = self.options["varying"]
        self._varied = [slot for slot in self._in_slots if slot.name in varying]
        where = [np.arange(slot.start, slot.stop) for slot in self._varied]
        index = np.concatenate(where) if where else np.zeros(0, dtype=int)
        self._compute = jax.jit(lambda flat: _join(self._named(flat)))

        def moved(part: Any, flat: Any) -> Any:
            return _join(self._named(flat.at[index].set(part)))

        self._slopes = jax.jit(lambda flat: jax.jacfwd(moved)(flat[index], flat))
        for slot in self._varied:
            self.declare_partials("*", slot.name)

    def _named(self, flat: Any) -> dict[str, Any]:
        item: Discipline = self.options["discipline"]
        known = self.options["known"]
        values = {s.name: flat[s.start : s.stop].reshape(s.shape) for s in self._in_slots}
        rebuilt = {name: rebuild(name, known[name], values) for name in item.records}
        return item.evaluate(values | rebuilt)

    def compute(self, inputs: Any, outputs: Any) -> None:
        """Evaluate the discipline."""
        outputs.set_val(np.asarray(self._compute(inputs.asarray())))

    def compute_partials(self, inputs: Any, partials: Any) -> None:
        """Derivatives of all outputs in the varying inputs."""
        if not self._varied:
            return
        slopes = np.asarray(self._slopes(inputs.asarray()))
        at = 0
        for slot in self._varied:
            width = slot.stop - slot.start
            for out in self._out_slots:
                partials[out.name, slot.name] = slopes[out.start : out.stop, at : at + width]
            at += width


def _join(values: Mapping[str, Any]) -> Any:
    return jnp.concatenate(
        [jnp.ravel(jnp.asarray(value, dtype=float)) for value in values.values()]
    )


def described(name: str) -> dict[str, Any]:
    """Unit and meaning of a variable from the table of quantities."""
    if name in REQUIREMENTS:
        return {"desc": f"Row: {REQUIREMENTS[name].title}"}
    quantity = QUANTITIES.get(name.rpartition(":")[2])
    if quantity is None:
        return {}
    unit = UNIT_NAMES.get(quantity.unit, quantity.unit)
    return {"units": unit, "desc": quantity.meaning}


def system_group(system: System, known: Mapping[str, Any]) -> om.Group:
    """Group of all disciplines; those on the implicit loop in a subgroup with its solvers.

    Parameters
    ----------
    system : the declaration
    known : sample values of parameters, design variables, the loop's state and all outputs
    """
    prelude, chain = split_prelude(system)
    stages = split_stages(chain, system.loop)
    varying = frozenset(system.design_variables) | {system.loop.state}
    varying |= {name for item in chain for name in item.outputs}
    group = om.Group()

    def add(parent: om.Group, item: Discipline) -> None:
        component = DisciplineComponent(discipline=item, known=known, varying=varying)
        outputs = [
            (name, system.loop.state) if name == system.loop.closure else name
            for name in item.outputs
        ]
        parent.add_subsystem(item.name, component, promotes_inputs=["*"], promotes_outputs=outputs)

    for item in prelude + stages.before:
        add(group, item)
    loop = group.add_subsystem("loop", om.Group(), promotes=["*"])
    for item in stages.loop:
        add(loop, item)
    loop.nonlinear_solver = om.NonlinearBlockGS(maxiter=30, atol=1e-13, rtol=1e-14, iprint=-1)
    loop.linear_solver = om.LinearBlockGS(maxiter=30, atol=1e-16, rtol=1e-15, iprint=-1)
    for item in stages.after:
        add(group, item)
    return group


def openmdao_problem(
    system: System,
    known: Mapping[str, Any],
    *,
    objective: str,
    rows: Mapping[str, NDArray[np.intp]],
    lower: Mapping[str, NDArray[np.float64]],
    upper: Mapping[str, NDArray[np.float64]],
    active: Mapping[str, NDArray[np.intp]],
    extend: Callable[[om.Group], None] | None = None,
) -> om.Problem:
    """Set up a problem with SLSQP as driver, the design of ``known`` as its start.

    Parameters
    ----------
    system, known : as :func:`system_group`
    objective : name of the scalar to be minimised
    rows : constraint outputs and which of their entries count (>= 0)
    lower, upper : bounds of each design variable
    active : entries of each design variable that the driver moves
    extend : given the model before it is set up, to add components, constraints or recorders
    """
    problem = om.Problem(model=system_group(system, known), reports=False)
    model = problem.model
    for name in DESIGN_SIZES:
        if active[name].size:
            start = np.atleast_1d(np.asarray(known[name], dtype=float))[active[name]]
            model.add_design_var(
                name,
                indices=active[name] if np.ndim(known[name]) else None,
                lower=lower[name][active[name]],
                upper=upper[name][active[name]],
                ref=np.maximum(np.abs(start), 1e-6),
            )
    model.add_objective(objective, ref=float(known[objective]))
    for name, entries in rows.items():
        if entries.size:
            model.add_constraint(name, lower=0.0, indices=entries, flat_indices=True, linear=False)
    problem.driver = om.ScipyOptimizeDriver(optimizer="SLSQP", tol=1e-10, maxiter=300, disp=False)
    if extend is not None:
        extend(model)
    problem.setup(mode="fwd")
    for name in DESIGN_SIZES:
        problem.set_val(name, known[name])
    return problem
