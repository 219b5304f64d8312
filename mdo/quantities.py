"""THE table of numbers: unit, symbol, title, meaning and range of every quantity, by its name.

``quantities.csv`` beside this module holds it, one line each, sorted by name. A quantity is called
the same everywhere: argument and result of a discipline, field of a record, variable of the
OpenMDAO problem, key of a study file, column of a table, axis of a plot; what is known of it by its
name is said there alone. Units are SI (``1``: dimensionless); a symbol is plain text, empty where
there is none. Switches and choices are numbers, their meaning says which. A requirement is a
constraint, positive is good. Masses, powers and energies say whether they are those of one wing or
of the aircraft.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import NamedTuple

from mdo.data_files import csv_beside

DIFFERENCE, PERCENT = "difference", "percent"


class Quantity(NamedTuple):
    """One quantity.

    Attributes
    ----------
    name, unit, symbol
        Name everywhere, SI unit, symbol in plain text.
    form
        ``difference`` of temperatures, ``percent`` for a share that is read so, else empty.
    title
        Short words for people; those of the name where the table leaves them out.
    low, high
        Ends of the range that a study or a card may ask for, as a study file would write them;
        empty where the quantity is nobody's input, or where a range stands beside a default.
    meaning
        What it is, in one line.
    """

    name: str
    unit: str
    form: str
    symbol: str
    title: str
    low: str
    high: str
    meaning: str

    @property
    def is_difference(self) -> bool:
        """True for a difference of temperatures, which no degC or degF shows."""
        return self.form == DIFFERENCE

    @property
    def is_percent(self) -> bool:
        """True for a share that is printed in per cent."""
        return self.form == PERCENT


def _read() -> MappingProxyType[str, Quantity]:
    lines = [Quantity(**line) for line in csv_beside(__file__)]
    titled = (
        line._replace(title=line.title or line.name.replace("_", " ").capitalize())
        for line in lines
    )
    return MappingProxyType({line.name: line for line in titled})


QUANTITIES = _read()


def quantity_of(column: str) -> Quantity | None:
    """Quantity that a column holds: of a set (``tube_count.up``), or the largest or least of it."""
    base = column.partition(".")[0]
    return QUANTITIES.get(base) or QUANTITIES.get(base.removesuffix("_max").removesuffix("_min"))


def is_difference(path: str) -> bool:
    """Tell whether what a path of an input ends in is a difference of temperatures."""
    quantity = QUANTITIES.get(path.rpartition(".")[2])
    return quantity is not None and quantity.is_difference


def title_of(column: str) -> str:
    """Short words of a column; those of its name where it holds no quantity."""
    base, _, side = column.partition(".")
    quantity = quantity_of(column)
    if quantity is None:
        words = base.replace("_", " ").capitalize()
    else:
        ends = {f"{quantity.name}_max": ", largest", f"{quantity.name}_min": ", least"}
        words = quantity.title + ends.get(base, "")
    return words + (f", {side} set" if side in {"up", "down"} else side and f", {side}")
