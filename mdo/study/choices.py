"""Words of a study file that stand for numbers (bus, structure, finish).

Numbers follow the sources named; the user may override each of them in the study.
"""

from __future__ import annotations

from typing import NamedTuple

ZERO_CELSIUS = 273.15


class Bus(NamedTuple):
    """Steady utilisation voltages [V] and allowed drop to the load [V] of a supply."""

    nominal: float
    low: float
    high: float
    allowed_drop: float
    provenance: str


# Steady limits: MIL-STD-704F, from memory, consistent with its external-power text (page 12).
# Drop at 28 and 115 V: AC 43.13-1B, continuous; at 270 V: MIL-STD-704F page 12, 0 to 10 V.
BUSES = {
    "28 V dc": Bus(28.0, 22.0, 29.0, 1.0, "MIL-STD-704F (from memory); drop AC 43.13-1B"),
    "270 V dc": Bus(270.0, 250.0, 280.0, 10.0, "MIL-STD-704F (from memory)"),
    "115 V ac": Bus(115.0, 108.0, 118.0, 4.0, "MIL-STD-704F (from memory); drop AC 43.13-1B"),
}

# Voltage of a battery over its discharge against nominal: judged.
BATTERY_LOW, BATTERY_HIGH = 0.75, 1.0

# Long-time limits of the structure beside the tubes [K]. Aluminium: the lower of 2024-T3 (120 degC)
# and 7075-T6 (100 degC), from memory of MIL-HDBK-5 trends. Carbon: wet service temperature of
# 121 degC and 177 degC cured epoxy, from memory of CMH-17 practice. Titanium: judged, by the
# wiring and sealant beside it.
STRUCTURES = {
    "aluminium": 100.0 + ZERO_CELSIUS,
    "carbon_121": 82.0 + ZERO_CELSIUS,
    "carbon_177": 121.0 + ZERO_CELSIUS,
    "titanium": 200.0 + ZERO_CELSIUS,
}

BOX = "box"  # section of a bench: as high everywhere as its envelope

# Emissivity of the tube's outer face. Bare and oxidised: judged; black high-temperature paint:
# Incropera appendix A, from memory (0.85 to 0.92).
FINISHES = {"bare": 0.3, "oxidised": 0.5, "black": 0.88}

# Conductor temperature ratings of the wire table of AC 43.13-1B [K].
WIRE_RATINGS = {
    "105 degC": 105.0 + ZERO_CELSIUS,
    "150 degC": 150.0 + ZERO_CELSIUS,
    "200 degC": 200.0 + ZERO_CELSIUS,
}

# Judged mass per area of an outer panel as a share of the whole vehicle's mass per wing area:
# 2 kg/m2 on a 45 kg, 10 on a 1,600 kg and 14 on a 9.5 t vehicle.
PANEL_DENSITY_SHARE = 0.045
