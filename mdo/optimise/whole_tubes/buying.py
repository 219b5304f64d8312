"""Wire and sheet of a design by rule: the next standard size up, and the rest re-optimised."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from mdo.optimise.optimum import Optimum, find_optimum
from mdo.optimise.whole_tubes.standard_parts import (
    SHEET_FIELDS,
    Feeder,
    feeder,
    next_sheet,
    walls,
    with_fields,
)

ROUNDS = 5  # most times that a size is looked up again after re-optimising


@dataclass(frozen=True)
class Bought:
    """A design with what was bought for it.

    Attributes
    ----------
    optimum
        The design, re-optimised with what was bought.
    feeder
        Wire of one wing.
    sheets
        Thickness of sheet by part [m].
    words
        What the last step bought.
    remarks
        What could not be bought.
    """

    optimum: Optimum
    feeder: Feeder | None = None
    sheets: Mapping[str, float] = field(default_factory=dict)
    words: str = ""
    remarks: tuple[str, ...] = ()

    @property
    def fields(self) -> dict[str, dict[str, float]]:
        """Fields of the parameter records that hold what was bought (SI)."""
        fields = {}
        if self.feeder is not None:
            fields["power_assumptions"] = {"wire_area_min": self.feeder.area}
        if self.sheets:
            fields["mass_assumptions"] = {SHEET_FIELDS[part]: t for part, t in self.sheets.items()}
        return fields


def buy_wire(bought: Bought) -> Bought:
    """Next standard gauge for the feeder, looked up again until the re-optimised design fits."""
    optimum = bought.optimum
    chosen = feeder(optimum.problem, optimum.design)
    for _ in range(ROUNDS):
        area = {"power_assumptions": {"wire_area_min": chosen.area}}
        wired = with_fields(optimum.problem, area)
        optimum = find_optimum(wired, starts=0, first=optimum.design)
        needed = feeder(optimum.problem, optimum.design)
        if needed.area <= chosen.area:
            break
        chosen = needed
    remarks = bought.remarks
    if not chosen.suits:
        remarks = (*remarks, f"wire: not even {chosen.words} keeps ampacity and drop")
    return replace(bought, optimum=optimum, feeder=chosen, words=chosen.words, remarks=remarks)


def buy_sheets(bought: Bought, sheets: Sequence[float]) -> Bought:
    """Next sheet for the housing and, between plates, for the plates."""
    optimum, remarks = bought.optimum, bought.remarks
    thickness: dict[str, float] = {}
    for _ in range(ROUNDS):
        changed: dict[str, float] = {}
        for wall in walls(optimum.problem, optimum.design):
            assumed = optimum.problem.assembled.parameters["mass_assumptions"]
            least = float(getattr(assumed, wall.record_field))
            sheet = next_sheet(sheets, max(wall.needed, least))
            if sheet is None:
                note = f"sheet: none is as thick as the {wall.part} needs"
                remarks = remarks if note in remarks else (*remarks, note)
            elif thickness.get(wall.part) != sheet:
                thickness[wall.part] = changed[wall.record_field] = sheet
        if not changed:
            break
        clad = with_fields(optimum.problem, {"mass_assumptions": changed})
        optimum = find_optimum(clad, starts=0, first=optimum.design)
    words = ", ".join(f"{part} {1e3 * sheet:g} mm" for part, sheet in thickness.items())
    return replace(
        bought,
        optimum=optimum,
        sheets=thickness,
        words=words or "no sheet is thick enough",
        remarks=remarks,
    )
