"""Values of an appraisal by leg: those of the set that drives, and of the set that opposes."""

from __future__ import annotations

import numpy as np

from mdo.arrays import Floats
from mdo.disciplines.tube.record import NO_RESISTANCE
from mdo.model.requirements import of_cooled, return_time
from mdo.model.scales import of_driver
from mdo.optimise.appraisal import Appraisal


class Facts:
    """Values, parameters and design of an appraisal; what belongs to the driver of each leg."""

    def __init__(self, appraisal: Appraisal) -> None:
        assembled = appraisal.problem.assembled
        self.appraisal, self.v, self.d = appraisal, appraisal.values, appraisal.design
        self.parameters = p = assembled.parameters
        self.legs, self.statics = p["legs"], p["statics"].state
        self.alloy, self.planform, self.vehicle = p["alloy"], p["planform"], p["vehicle"]
        self.choices, self.supply, self.wanted = p["choices"], p["supply"], p["requirements"]
        self.bundle = p["bundle_assumptions"]
        self.wings = float(self.choices.assemblies)
        self.fold_angle = np.asarray(p["fold_angle"])
        self.up, self.heated, self.loaded = (
            self.v[name] > 0.5 for name in ("pushes_up", "heated", "returned_by_load")
        )
        self.moves, self.returns = (
            np.asarray(flag) > 0.5 for flag in (self.legs.moves, self.legs.is_return)
        )
        self.driven = self.heated & self.moves
        self.present = np.asarray(self.choices.set_present) > 0.5
        self.braked = float(self.choices.brake) > 0.5
        self.leg_names = tuple(leg.label for leg in assembled.legs)
        self.static_names = tuple(leg.label for leg in assembled.statics)

    def margins(self, name: str) -> Floats:
        """Torque margin by leg and angle; NaN where no heated set drives or no load resists."""
        counts = self.heated[:, None] & (self.v[name] < 0.5 * NO_RESISTANCE)
        return np.where(counts, self.v[name], np.nan)

    def of_driver(self, name: str) -> Floats:
        """Value of the set that drives each leg, shape (legs,), of a (2,) or (legs, 2) quantity."""
        value = self.v[name] if name in self.v else self.d[name]
        return np.asarray(of_driver(value, self.v["pushes_up"]))

    def of_heated(self, name: str) -> Floats:
        """The same, NaN for legs that no heated set drives."""
        return np.where(self.heated, self.of_driver(name), np.nan)

    def of_cooled(self, name: str) -> Floats:
        """Value of the set that opposes the motion of each leg, shape (legs,)."""
        return np.asarray(of_cooled(self.v[name], self.v["pushes_up"]))

    def return_time(self) -> Floats:
        """Time of a return leg [s], as its requirement has it."""
        v = self.v
        times = return_time(v["heat_time"], v["cool_time"], v["pushes_up"], self.choices)
        return np.asarray(times)
