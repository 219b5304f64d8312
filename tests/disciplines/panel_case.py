"""One made-up wing and four legs, shared by the load tests."""

import jax.numpy as jnp
import numpy as np

from mdo.disciplines.loads.assumptions import AeroAssumptions
from mdo.disciplines.loads.planform import planform_from_breakpoints
from mdo.disciplines.records import Legs, Requirements, Vehicle

# reference hinge-moment, section 5, illustrative aircraft: S 4 m2, aspect ratio 2.5, taper 0.25,
# quarter-chord sweep 30 deg, fold fraction 0.35, panel 5.1 kg
HALF = np.sqrt(10.0) / 2
ROOT = 4.0 / HALF / 1.25
TANGENT = np.tan(np.radians(30.0)) + 0.25 * ROOT * 0.75 / HALF
PLANFORM = planform_from_breakpoints(
    station=[0.0, HALF],
    leading_edge=[0.0, TANGENT * HALF],
    chord=[ROOT, 0.25 * ROOT],
    twist=[0.0, 0.0],
    thickness_ratio=[0.05, 0.05],
    fold_station=0.65 * HALF,
)

VEHICLE = Vehicle(**dict.fromkeys(Vehicle._fields, 0.0))._replace(
    mass_without_actuator=1000.0,
    panel_mass=5.1,
    panel_centre=0.24,
    panel_inertia=0.4,
    section_lift_efficiency=0.95,
    bearing_friction=0.1,
    bearing_radius=0.01,
    bearing_spacing=0.4,
    seal_moment=1.0,
    skin_stiffness=2.0,
)

AERO = AeroAssumptions(
    moment_scale=1.0,
    thickness_moment_coefficient=0.0,
    wind_factor=0.75,
    wind_model=0.0,
    wind_upflow=np.radians(10.0),
    wind_plateau=1.5,
    wind_arm_factor=1.1,
    gust_factor=1.0,
    chordwise_centre_subsonic=0.25,
    chordwise_centre_supersonic=0.48,
    bearing_middle=0.4,
    panel_drag_ratio=0.1,
    uncertainty_subsonic=0.10,
    uncertainty_supersonic=0.15,
    uncertainty_transonic=0.25,
    uncertainty_wind=0.30,
    uncertainty_incidence=0.25,
    uncertainty_damping=0.20,
    uncertainty_friction=0.50,
    uncertainty_table=0.10,
)

REQUIREMENTS = Requirements(**dict.fromkeys(Requirements._fields, 0.0))._replace(
    friction_factor=1.2
)


def make_legs(**fields):
    """Legs with the given fields, everything else zero but for mass and safety factors."""
    count = len(next(iter(fields.values())))
    start = dict.fromkeys(Legs._fields, [0.0] * count)
    start |= {"mass_fraction": [1.0] * count, "safety_factor": [1.5] * count}
    return Legs(**{name: jnp.array(value, float) for name, value in (start | fields).items()})


# deck fold up, supersonic fold down, subsonic fold down, supersonic locked
LEGS = make_legs(
    direction=[1, -1, -1, 0],
    angle_from=[0, 0, 0, 1.2217],
    angle_to=[1.5708, -1.2217, -1.2217, 1.2217],
    mach=[0, 1.4, 0.8, 1.4],
    altitude=[0, 12192, 10000, 12192],
    airborne=[0, 1, 1, 1],
    load_factor=[1, 1, 1, 2.5],
    locked=[0, 0, 0, 1],
)


def angles(legs, count=7):
    """Fold angles from start to end, shape ``(legs, count)``."""
    fraction = jnp.linspace(0.0, 1.0, count)
    return legs.angle_from[:, None] + (legs.angle_to - legs.angle_from)[:, None] * fraction
