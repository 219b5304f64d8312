"""What the script that draws a bundle needs of each design of an exploration."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

# By its name in the script: radius, wall over radius, sleeve, counts, envelope [m].
DRAWN = {
    "radius": "tube_outer_radius", "wall": "wall_ratio", "sleeve": "insulation_thickness",
    "ratio": "gear_ratio", "up": "tube_count.up", "down": "tube_count.down",
    "height": "bundle_height", "length": "bundle_length",
}  # fmt: skip
NEEDED = ("tube_outer_radius", "bundle_height", "bundle_length")
DIGITS = 4


def form_of(built: pd.Series) -> dict[str, Any]:
    """How a choice is built, of its row of a table that names topology and lanes."""
    return {"topology": str(built["topology"]), "lanes": int(built["gear_lanes"])}


def bundle_numbers(frame: pd.DataFrame, choice: str, built: pd.DataFrame) -> dict[str, Any]:
    """Numbers of the bundle of each design; nothing where a table is of an older run.

    Parameters
    ----------
    frame : designs, SI
    choice : column that names the choice of each
    built : rows by choice with ``topology`` and ``gear_lanes``
    """
    if "topology" not in built or not set(NEEDED) <= set(frame):
        return {}
    forms = [form_of(line) for _, line in built.iterrows()]
    places = {words: at for at, words in enumerate(built[choice])}
    values = frame.reindex(columns=list(DRAWN.values())).to_numpy(float)
    rows = [
        [float(f"{value:.{DIGITS}g}") if np.isfinite(value) else 0.0 for value in row]
        if np.isfinite(row[0]) and np.isfinite(row[-2:]).all() else None
        for row in values
    ]  # fmt: skip
    return {"names": list(DRAWN), "rows": rows, "forms": forms,
            "of": [places.get(words, 0) for words in frame[choice]]}  # fmt: skip
