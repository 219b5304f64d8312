"""The coupled system of the tool, declared once: what `fold-mdo` computes, in order."""

from __future__ import annotations

from mdo.disciplines.bundle.fittings import fittings
from mdo.disciplines.bundle.packing import bundle, transmission
from mdo.disciplines.electric.power import power
from mdo.disciplines.environment import environment
from mdo.disciplines.heat.balance import thermal_cooling, thermal_heating
from mdo.disciplines.heat.phases import phases
from mdo.disciplines.loads.hinge_moment import hinge_moment
from mdo.disciplines.loads.statics import ALL_LOADS_LEVELS, lock, static_environment
from mdo.disciplines.mass.comparison import comparison
from mdo.disciplines.mass.system import mass, wing_mass
from mdo.disciplines.tube.life import life
from mdo.disciplines.tube.margins import margins
from mdo.disciplines.tube.roles import roles
from mdo.disciplines.tube.travel import travel
from mdo.disciplines.tube.uniform import actuator_uniform
from mdo.model.declaration import Loop, System, discipline, named_discipline
from mdo.model.layout import DESIGN_SIZES
from mdo.model.requirements import REQUIREMENTS
from mdo.model.rows import constraint_rows, names_read

OBJECTIVE = "system_mass"
ROWS = "constraints"
REPORT_ONLY = ("margins", "comparison")
# What is compared, and what uncertain inputs are propagated to.
FIGURES = (
    "system_mass",
    "actuator_volume",
    "peak_power",
    "sortie_energy",
    "geared_mass",
    "geared_volume",
    "geared_power",
    "geared_sortie_energy",
    "hydraulic_mass",
    "hydraulic_mass_local",
    "hydraulic_power",
    "torque_margin",
)


def declare_system(*, hinge_level: str = "strip", report: bool = True) -> System:
    """Declare the system: disciplines in the order of evaluation.

    Parameters
    ----------
    hinge_level : fidelity of the hinge moment, a key of ALL_LOADS_LEVELS
    report : include what only the report needs (exact margins, conventional hinges)

    Raises
    ------
    KeyError
        If the fidelity is not known.
    """
    disciplines = [
        discipline("travel", travel),
        discipline("environment", environment),
        discipline("transmission", transmission),
        discipline("loads", ALL_LOADS_LEVELS[hinge_level]),
        discipline("static_environment", static_environment),
        discipline("roles", roles),
        discipline("phases", phases),
        discipline("fittings", fittings),
        discipline("bundle", bundle),
        discipline("heating", thermal_heating),
        discipline("power", power),
        discipline("wing_mass", wing_mass),
        discipline("hinge_moment", hinge_moment),
        discipline("lock", lock),
        discipline("mass", mass),
        discipline("actuator", actuator_uniform),
        discipline("cooling", thermal_cooling),
        discipline("life", life),
    ]
    records = {name for item in disciplines for name in item.records}
    disciplines.append(
        named_discipline(
            ROWS, constraint_rows, reads=names_read(), gives=REQUIREMENTS, records=records
        )
    )
    if report:
        disciplines += [discipline("margins", margins), discipline("comparison", comparison)]
    return System(
        disciplines=tuple(disciplines),
        design_variables=tuple(DESIGN_SIZES),
        loop=Loop(state="vehicle_mass", closure="closed_vehicle_mass"),
    )
