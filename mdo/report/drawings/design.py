"""Drawings of a design: pure functions of an appraisal to a piece of a page or to a figure.

Texts (SVG, and a piece of a page with its slider) take their colours from the page and load
nothing; the figures are those of plotly. Everything is of one wing and of the whole tubes that
would be ordered.
"""

from __future__ import annotations

from mdo.report.drawings.end_view import bundle_end_view
from mdo.report.drawings.front_view import front_view
from mdo.report.drawings.side_view import bundle_side_view
from mdo.report.drawings.thermal import (
    ledger_figure,
    temperature_time_figure,
    transformation_figure,
)

CAPTIONS = {
    "bundle_side_view": (
        "The bundle of one wing to scale: above in the wing section at the fold, where both its "
        "ends see the same height between skins and clearances (dashed); below enlarged, with its "
        "tubes, cold ends, fittings and gears."
    ),
    "bundle_end_view": (
        "The same bundle cut across the chord, with the skins where the wing has least height over "
        "it. One way to place the whole tubes in the size that the model gives, not a layout."
    ),
    "front_view": (
        "The wing over the fold angle, with the moments of one wing about the hinge: required "
        "against the driver at limit load (dashed), available with it (solid), lengths in "
        "proportion. Linear between the angles of the torque table; without a script the angle "
        "that drives the design is shown."
    ),
    "transformation_figure": (
        "Uniform shear stress over temperature: the lines at which the alloy turns to martensite "
        "as it cools (Ms start, Mf finish) and to austenite as it heats (As start, Af finish), "
        "each set hot at its operating stress (triangles), and returned at its smallest return "
        "stress in the hottest bay (diamonds; open: Mf' there). Under the axis: what the "
        "cases demand of any alloy without stress, and this alloy (crosses)."
    ),
    "temperature_time_figure": (
        "Tube temperature in the fold with least time to spare (coldest bay, lowest line voltage) "
        "and in its return (dashed, hottest bay): a sketch through the computed ends of each "
        "stretch, one temperature per tube. Heating sets the fold time, the slow tail to Mf′ the "
        "return time; the fastest motion is that of a hot start at high line."
    ),
    "ledger_figure": (
        "Where the heat of that fold goes, one set of one wing, from command to hot. The parts sum "
        "to what its heaters give; losses of wire and converter come on top."
    ),
}

__all__ = [
    "CAPTIONS",
    "bundle_end_view",
    "bundle_side_view",
    "front_view",
    "ledger_figure",
    "temperature_time_figure",
    "transformation_figure",
]
