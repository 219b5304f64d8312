"""How each uncertain input is measured: quantity, specimen, standard test method.

Standards are named by number from memory, every one of them: confirm scope and current issue before
a test is ordered. How many specimens is judgement. What no test can give, because a drawing settles
it, says so.
"""

from __future__ import annotations

from typing import NamedTuple

STANDARD, IN_HOUSE, DRAWING = "standard test", "in-house test", "detailed design"
NO_STANDARD = "no standard method known: in-house test"
CONFIRM = "from memory, confirm the current issue"


class Method(NamedTuple):
    """How an input is measured.

    Attributes
    ----------
    kind
        ``standard test``, ``in-house test``, or ``detailed design`` where a drawing settles it.
    measure
        What is measured.
    specimen
        On what; may name ``{tube}``.
    condition
        How; may name ``{stress}``, ``{hot}``, ``{cold}``, ``{folds}``.
    standards
        Test methods by number and scope; empty where none is known.
    specimens
        How many, as a suggestion: judgement.
    """

    kind: str
    measure: str
    specimen: str
    condition: str
    standards: tuple[str, ...]
    specimens: int


TUBES = "tubes of the production lot, {tube}"
UNKNOWN = Method(IN_HOUSE, "the quantity itself", "a part as drawn", "as in service", (), 3)

METHODS: dict[str, Method] = {
    # ---- alloy
    "torque_cycles": Method(
        STANDARD, "twist against temperature at constant torque: shear strains of cooling and "
        "heating, shift of the transformation temperatures", TUBES,
        "trained, at five torques up to that of {stress}, each from {cold} to {hot} and back",
        ("ASTM E3414 (constant-torque thermal cycling; its number is not certain)",
         "ASTM E3097 (constant-force thermal cycling, for comparison)"), 5),
    "force_cycles": Method(
        STANDARD, "actuation strain and transformation temperatures under constant force",
        "bars of the production lot", "trained, at six tensile stresses from 7 MPa to root 3 "
        "times {stress}, each from {cold} to {hot} and back",
        ("ASTM E3097 (constant-force thermal cycling)",), 5),
    "calorimetry": Method(
        STANDARD, "transformation temperatures at zero stress", "chips of every bar of the lot",
        "annealed and as delivered, each from {cold} to {hot} and back",
        ("ASTM F2004 (transformation temperatures by DSC)",
         "ASTM F2082 (bend and free recovery, of the finished form)"), 10),
    "enthalpy": Method(
        STANDARD, "enthalpy of the transformation, both ways", "chips of the lot, trained",
        "from {cold} to {hot} and back", ("ASTM E793 (enthalpies by DSC)",
        "ASTM F2004 (transformation temperatures by DSC)"), 5),
    "heat_capacity": Method(
        STANDARD, "specific heat", "chips of the material", "from {cold} to {hot}",
        ("ASTM E1269 (specific heat by DSC)",), 3),
    "diffusivity": Method(
        STANDARD, "thermal diffusivity, times density and specific heat", "discs of the material",
        "from {cold} to {hot}", ("ASTM E1461 (diffusivity by flash)",
        "ASTM E1269 (specific heat by DSC)"), 3),
    "density": Method(
        STANDARD, "density", "offcuts", "by immersion at room temperature",
        ("ASTM B311 (density by immersion)",), 3),
    "cold_twist": Method(
        STANDARD, "torque against twist of cold martensite that was cooled without load, and what "
        "recovers on heating", TUBES, "cooled to {cold}, twisted to the full travel, freed, heated "
        "to {hot}", ("ASTM E3098 (uniaxial pre-strain and free recovery), in torsion by analogy",),
        5),
    "hot_torsion": Method(
        IN_HOUSE, "torque at which the hot tube keeps a set", TUBES,
        "torque raised in steps at {hot}, set read after each; cycles from {cold} between",
        ("ASTM E3414 (constant-torque thermal cycling; its number is not certain)",), 5),
    "hot_tension": Method(
        STANDARD, "yield stress of austenite", "bars of the lot", "at {hot}",
        ("ASTM E21 (tension at elevated temperature)", "ASTM F2516 (tension of NiTi)"), 5),
    "torsion_modulus": Method(
        STANDARD, "shear modulus", TUBES, "small twist, cold at {cold} and hot at {hot}",
        ("ASTM E143 (shear modulus at room temperature)",
         "ASTM E1876 (dynamic moduli by impulse, at temperature)"), 3),
    "tension_modulus": Method(
        STANDARD, "Young modulus and transverse strain, cold", "bars of the lot",
        "small strain at {cold}", ("ASTM E111 (Young modulus)", "ASTM E132 (Poisson ratio)"), 3),
    "fatigue": Method(
        STANDARD, "cycles to failure, and to a set that the trim cannot take up", TUBES,
        "constant torque at four levels about {stress}, full travel, {cold} to {hot}, to ten times "
        "{folds} folds or failure",
        ("ASTM E3506 (repeated constant-force cycling), in torsion by analogy",
         "ASTM E739 (statistics of stress-life data)"), 15),
    "overheating": Method(
        IN_HOUSE, "shift of temperatures and strain after soaks at rising temperature",
        "bars of the lot", "soaks of 100 h in steps of 25 K about {hot}, each checked by DSC and a "
        "cycle under load", ("ASTM F2004 (transformation temperatures by DSC)",
        "ASTM E3097 (constant-force thermal cycling)"), 4),
    # ---- loads
    "tunnel": Method(
        STANDARD, "hinge moment, normal force and its centre over the fold angle",
        "model of the wing with its panel on a hinge balance", "at the Mach numbers and incidences "
        "of the cases", ("AIAA S-071 (uncertainty of wind-tunnel tests)",
        "AIAA R-091 (strain-gauge balances)"), 1),
    "wind": Method(
        STANDARD, "hinge moment of the parked vehicle over fold angle and wind direction",
        "model on a ground board with a deck edge", "boundary layer and turbulence of a deck",
        ("AIAA S-071 (uncertainty of wind-tunnel tests)",), 1),
    "gust": Method(
        IN_HOUSE, "hinge moment in known gusts", "the vehicle, panel folded", "in flight or in a "
        "gust tunnel", (), 1),
    # ---- transmission and structure
    "bundle": Method(
        IN_HOUSE, "torque of a bundle against that of its tubes alone", "one set as drawn",
        "all tubes heated together to {hot}, torque of each read", (), 2),
    "transmission": Method(
        IN_HOUSE, "torque lost in joint and meshes", "joints and one gear stage as drawn",
        "at the torque of {stress}, cold and warm, slow", ("ISO/TR 14179 (losses of gears)",), 3),
    "gear_contact": Method(
        STANDARD, "load at which the flanks pit or scuff at few, slow revolutions",
        "pinions and wheel as drawn", "at the folds of the life, {folds}, and ten times that",
        ("ISO 14635 (scuffing and load capacity on a gear rig)",
         "ISO 6336-5 and ANSI/AGMA 2101 (rating, allowable stresses)"), 6),
    "gear_bending": Method(
        STANDARD, "root bending fatigue of single teeth", "pinions as drawn", "one-way bending",
        ("SAE J1619 (single-tooth bending fatigue)", "ISO 6336-5 (allowable stresses)"), 8),
    "bearing_pressure": Method(
        STANDARD, "bearing pressure that the spline stands while it slides, share of teeth that "
        "carry", "joints as drawn", "at {hot}, slides of one fold, {folds} folds",
        ("ASTM E238 (pin-type bearing test), by analogy",), 4),
    "shear_strength": Method(
        STANDARD, "shear strength", "pins or coupons of the material", "at the hottest structure",
        ("ASTM B769 (shear of aluminium)", "NASM 1312-13 (double shear of fasteners)"), 5),
    "spring_wire": Method(
        STANDARD, "torque at set and modulus", "wire or bar of the spring", "room temperature",
        ("ASTM A938 (torsion of wire)", "ASTM E143 (shear modulus at room temperature)"), 3),
    "buckling": Method(
        IN_HOUSE, "torque at which the tube buckles while it transforms, tangent stiffness",
        TUBES, "twisted at a temperature within the transformation", (), 4),
    "bent_tubes": Method(
        IN_HOUSE, "stroke and life of tubes bent by their plates", "a plated set as drawn",
        "{cold} to {hot}", (), 2),
    "strength": Method(
        STANDARD, "strength", "coupons of the material", "at temperature of service",
        ("ASTM E8 (tension of metals)", "ASTM E21 (tension at elevated temperature)"), 5),
    # ---- heat
    "emittance": Method(
        STANDARD, "total emittance", "coupons with the finish", "at {hot}",
        ("ASTM E408 (total normal emittance)", "ASTM E423 (emittance at temperature)"), 3),
    "contact": Method(
        STANDARD, "thickness and conductance of the layer", "bonded samples", "at {hot}",
        ("ASTM D5470 (thermal conductance of thin layers)", "ASTM D374 (thickness)"), 5),
    "insulation": Method(
        STANDARD, "conductivity, density, specific heat of the sleeve", "sleeve on a pipe",
        "at {hot} inside", ("ASTM C335 (heat transfer of pipe insulation)",
        "ASTM C302 (density of pipe insulation)", "ASTM E1269 (specific heat by DSC)"), 3),
    "slab_conductivity": Method(
        STANDARD, "conductivity", "discs of the material", "at temperature of service",
        ("ASTM C177 (guarded hot plate)", "ASTM E1530 (guarded heat flow)"), 3),
    "bond_temperature": Method(
        STANDARD, "shear strength of the bond against temperature", "bonded laps",
        "in steps of 10 K to failure", ("ASTM D2295 (adhesive shear at temperature)",), 5),
    "gap": Method(
        STANDARD, "diameters of bore and heater, hot position of the winding",
        "tubes and heaters as delivered", "gauged, and sectioned or by X-ray",
        ("ISO 286 (limits and fits)", "ASTM E1742 (radiography)"), 10),
    "heater_life": Method(
        IN_HOUSE, "temperature and cycles at which the heater fails", "heaters as delivered",
        "cycled at rated flux in a bore as drawn", (), 5),
    "heated_tube": Method(
        IN_HOUSE, "temperature along tube and ends against time", "one tube with its heater and "
        "ends as drawn, {tube}", "heated to {hot} and cooled, thermocouples and thermography",
        (), 3),
    "bay_loss": Method(
        IN_HOUSE, "heat loss and cooling time of the bundle in its bay", "mock-up of the bay with "
        "one set", "held at {hot}, then cooled; at the pressure and air of the cases", (), 1),
    "fan": Method(
        STANDARD, "pressure, flow and power of the blower on the bundle", "blower and mock-up of "
        "the bay", "at the density of the cases", ("ISO 5801 (fan performance)",), 1),
    # ---- power and parts
    "battery": Method(
        STANDARD, "energy and power that a pack gives, hot and cold, and its mass", "packs",
        "at the load of one sortie, from {cold}", ("IEC 62660-1 (performance of cells)",
        "RTCA DO-311 (rechargeable lithium batteries)"), 3),
    "converter": Method(
        IN_HOUSE, "power in and out", "breadboard of the switches with wiring",
        "at the power of one set", (), 2),
    "wire": Method(
        STANDARD, "mass per length, temperature under load", "a harness as drawn",
        "at the current of one set", ("SAE AS4373 (tests of wire)",
        "SAE AS50881 (wiring of aircraft)"), 2),
    "weighing": Method(
        STANDARD, "mass", "first article, or a part of like size", "weighed, in the lines of the "
        "mass statement", ("AIAA S-120 (mass properties)",), 2),
    "geared_drive": Method(
        STANDARD, "mass, torque, efficiency of a geared drive", "a drive of like size",
        "at the limit moment and speed of the fold", ("IEC 60034-2-1 (losses of motors)",
        "ISO/TR 14179 (losses of gears)"), 1),
    "hydraulic": Method(
        STANDARD, "efficiency of a rotary vane actuator, density of the fluid", "an actuator of "
        "like size", "at rated pressure", ("ISO 4409 (hydraulic machines)",
        "ASTM D4052 (density of liquids)"), 1),
    "drawing": Method(
        DRAWING, "nothing: a dimension or form that a drawing settles", "drawing of the part",
        "detailed design", (), 0),
}  # fmt: skip

_BY_METHOD: dict[str, str] = {
    "torque_cycles": "slope_factor strain_factor",
    "force_cycles": "martensite_slope austenite_slope strain_min strain_saturation "
    "strain_rate_constant strain_threshold_stress",
    "calorimetry": "martensite_start martensite_finish austenite_start austenite_finish",
    "enthalpy": "latent_heat",
    "heat_capacity": "specific_heat cartridge_specific_heat wrap_specific_heat "
    "fitting_specific_heat insulation_specific_heat",
    "diffusivity": "conductivity_martensite conductivity_austenite cartridge_conductivity",
    "density": "density structure_density spring_density wire_density cartridge_density "
    "bearing_density",
    "cold_twist": "detwinning_start_stress detwinning_finish_stress recoverable_strain",
    "hot_torsion": "allowable_shear_stress",
    "hot_tension": "austenite_yield_stress",
    "torsion_modulus": "austenite_shear_modulus martensite_shear_modulus structure_shear_modulus",
    "tension_modulus": "martensite_young_modulus poisson_ratio",
    "fatigue": "life_intercept life_slope declared_life_stress declared_life_strain "
    "declared_life_cycles",
    "overheating": "temperature_max",
    "tunnel": "moment_scale thickness_moment_coefficient chordwise_centre_subsonic "
    "chordwise_centre_supersonic panel_drag_ratio",
    "wind": "wind_factor wind_upflow wind_plateau wind_arm_factor",
    "gust": "gust_factor",
    "bundle": "sharing_efficiency",
    "transmission": "joint_efficiency mesh_efficiency",
    "gear_contact": "gear_surface_factor",
    "gear_bending": "gear_bending_allowable",
    "bearing_pressure": "spline_bearing_allowable spline_share",
    "shear_strength": "structure_shear_allowable lock_pin_shear_allowable",
    "spring_wire": "spring_shear_allowable spring_shear_modulus",
    "buckling": "buckling_knockdown tangent_modulus_ratio",
    "bent_tubes": "plated_strain_fraction",
    "strength": "hydraulic_allowable",
    "emittance": "gap_emissivity structure_emissivity",
    "contact": "adhesive_thickness adhesive_conductivity wrap_thickness",
    "insulation": "insulation_conductivity insulation_density",
    "slab_conductivity": "spacer_conductivity",
    "bond_temperature": "wrap_temperature_max",
    "gap": "heater_gap winding_radius_ratio",
    "heater_life": "cartridge_temperature_max",
    "heated_tube": "cold_end_length_ratio cartridge_cold_end fitting_soak_heating "
    "fitting_soak_cooling",
    "bay_loss": "natural_factor forced_factor structure_back_conductance",
    "fan": "fan_efficiency blower_head_loss",
    "battery": "battery_specific_energy battery_specific_power battery_depth battery_efficiency "
    "battery_cold_energy_factor battery_cold_power_factor",
    "converter": "converter_efficiency",
    "wire": "wire_temperature wire_insulation_factor wire_installation_factor",
    "weighing": "fitting_factor support_share gear_application_density housing_fitting_factor "
    "housing_flange_factor lock_mass_fixed lock_factor brake_torque_density resolver_mass "
    "thermocouple_mass switch_mass fastener_fraction spring_factor generator_specific_mass "
    "converter_specific_mass_small converter_specific_mass_large controller_base_mass "
    "controller_channel_mass wrap_areal_mass heater_lead_mass blower_specific_mass brake_share "
    "no_back_share housing_share controller_specific_mass controller_mass_min "
    "source_specific_mass packing_density hydraulic_shell_factor hydraulic_valve_mass "
    "hydraulic_line_mass hydraulic_pump_specific_mass",
    "geared_drive": "torque_density gear_efficiency motor_efficiency",
    "hydraulic": "hydraulic_efficiency hydraulic_fluid_density",
    "drawing": "bearing_middle spline_length_ratio knuckle_diameter_ratio pinion_spacing "
    "pinion_ratio fitting_outer_ratio spline_height_ratio gear_lewis_factor bearing_form "
    "bearing_section_ratio lock_pin_slenderness lock_arm_ratio brake_speed_ratio "
    "spacer_area_ratio speed_peak_factor",
}
FIELDS: dict[str, str] = {
    field: method for method, fields in _BY_METHOD.items() for field in fields.split()
}


def method_of(field: str) -> Method:
    """Method by which a field is measured; one of our own where none is listed."""
    return METHODS[FIELDS[field]] if field in FIELDS else UNKNOWN
