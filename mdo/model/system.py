"""The coupled system of the tool, declared once: what `fold-mdo` computes, in order."""

from __future__ import annotations

from mdo.disciplines.bundle.fittings import fittings
from mdo.disciplines.bundle.packing import bundle
from mdo.disciplines.bundle.transmission import transmission
from mdo.disciplines.electric.power import power
from mdo.disciplines.environment import environment
from mdo.disciplines.heat.from_rest import from_rest
from mdo.disciplines.levels import SHIPPED, Levels, level_functions
from mdo.disciplines.loads.hinge_moment import hinge_moment
from mdo.disciplines.loads.statics import lock, static_environment
from mdo.disciplines.mass.comparison import comparison
from mdo.disciplines.mass.system import mass, wing_mass
from mdo.disciplines.tube.bounds import bounds
from mdo.disciplines.tube.life import life
from mdo.disciplines.tube.roles import roles
from mdo.disciplines.tube.travel import travel
from mdo.model.correction import (
    MASS,
    UNCORRECTED,
    corrected_mass,
    corrected_rows,
    correcting,
    plain,
)
from mdo.model.declaration import Loop, System, discipline, named_discipline
from mdo.model.layout import DESIGN_SIZES
from mdo.model.requirements import REQUIREMENTS
from mdo.model.rows import constraint_rows, names_read

OBJECTIVE = MASS
ROWS = "constraints"
REPORT_ONLY = ("tube_answer", "comparison", "heat_answer", "bounds", "from_rest")
# What is compared, and what uncertain inputs are propagated to.
FIGURES = (
    "system_mass", "actuator_volume", "peak_power", "sortie_energy",
    "geared_mass", "geared_volume", "geared_power", "geared_sortie_energy",
    "hydraulic_mass", "hydraulic_mass_local", "hydraulic_power", "torque_margin",
)  # fmt: skip


def declare_system(
    *, levels: Levels = SHIPPED, report: bool = True, corrected: bool = False
) -> System:
    """Declare the system: disciplines in the order of evaluation.

    Parameters
    ----------
    levels : level of fidelity of each discipline, of :data:`mdo.disciplines.levels.LEVELS`
    report : include what only the report needs (exact margins, conventional hinges, courses)
    corrected : whether rows and mass are corrected by numbers among the parameters

    Raises
    ------
    KeyError
        If a level is not known.
    """
    level = level_functions(levels)
    disciplines = [
        discipline("travel", travel),
        discipline("environment", environment),
        discipline("transmission", transmission),
        discipline("loads", level.hinge_moment.loads),
        discipline("static_environment", static_environment),
        discipline("roles", roles),
        discipline("tube_states", level.tube.states),
        discipline("fittings", fittings),
        discipline("bundle", bundle),
        discipline("heating", level.heat.heating),
        discipline("power", power),
        discipline("wing_mass", wing_mass),
        discipline("hinge_moment", hinge_moment),
        discipline("lock", lock),
        discipline("mass", mass),
        discipline("tube_demand", level.tube.demand),
        discipline("cooling", level.heat.cooling),
        discipline("life", life),
    ]
    records = {name for item in disciplines for name in item.records}
    disciplines.append(
        named_discipline(
            ROWS, constraint_rows, reads=names_read(), gives=REQUIREMENTS, records=records
        )
    )
    if corrected:
        disciplines[-1] = plain(disciplines[-1], *REQUIREMENTS)._replace(name=UNCORRECTED + ROWS)
        disciplines = [plain(item, OBJECTIVE) for item in disciplines]
        disciplines += [
            correcting("mass_correction", corrected_mass, (OBJECTIVE,)),
            correcting(ROWS, corrected_rows, REQUIREMENTS),
        ]
    if report:
        disciplines += [
            discipline("tube_answer", level.tube.answer),
            discipline("comparison", comparison),
            discipline("heat_answer", level.heat.answer),
            discipline("bounds", bounds),
            discipline("from_rest", from_rest),
        ]
    loop = Loop("vehicle_mass", "closed_vehicle_mass", ("vehicle", "mass_without_actuator"))
    return System(tuple(disciplines), tuple(DESIGN_SIZES), loop)
