"""First studies: short, commented, feasible as they stand, in the user's units."""

from __future__ import annotations

import re
from pathlib import Path

from mdo.study.reader import StudyError
from mdo.study.text import is_reserved, one_line
from mdo.study.units import in_unit, parse_quantity
from mdo.study.values import NAME

FOLDER = Path(__file__).with_name("templates")
_QUANTITY = re.compile(r'"(-?[\d.]+) ([A-Za-z*0-9]+)"')
# Trade units for those of the templates: unit, its SI unit.
_TRADE = {
    "kg": ("lb", "kg"), "m": ("in", "m"), "cm": ("in", "m"), "mm": ("in", "m"),
    "N*m": ("in*lbf", "N*m"), "kg*m2": ("lb*ft2", "kg*m**2"), "degC": ("degF", "K"),
}  # fmt: skip
_COMMENT = re.compile(r"^(?=[^#\n])([^#\n]*\S) +(# .*)$", re.MULTILINE)
_FEET = re.compile(r'(altitude = )"([\d.]+) m"')
COLUMN = 38  # of the comments
DIGITS = 4  # of a converted number: a template stays feasible to 1e-3


def first_study(file: Path, kind: str, units: str = "si") -> None:
    """Write a first study; a file that is there is never touched.

    Parameters
    ----------
    file : where to; its name without the ending names the study
    kind : one of :data:`mdo.analysis_names.FIRST_STUDIES`
    units : ``si`` or ``us`` trade units

    Raises
    ------
    StudyError
        If the file is there, cannot be written, or has a name that no study can have.
    """
    where, name = one_line(file), file.stem
    if file.suffix != ".toml" or not NAME.fullmatch(name) or is_reserved(name):
        raise StudyError(
            [f"{where}: not a name for a study, expected letters, digits, _ and -, then .toml"]
        )
    text = (FOLDER / f"{kind}.toml").read_text(encoding="utf-8")
    text = text.replace("NAME", name).replace("FILE", file.name)
    if units == "us":
        text = _QUANTITY.sub(
            _in_trade_units, _FEET.sub(lambda m: f'{m[1]}"{float(m[2]) / 0.3048:.0f} ft"', text)
        )
    text = _COMMENT.sub(lambda line: f"{line[1]:{COLUMN}} {line[2]}", text)
    try:
        with file.open("x", encoding="utf-8") as new:
            new.write(text)
    except FileExistsError:
        raise StudyError(
            [f"{where}: is there already and is not touched, expected a new name"]
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable path"
        raise StudyError([f"{where}: cannot be written: {reason}"]) from None


def _in_trade_units(found: re.Match[str]) -> str:
    number, unit = found.groups()
    if unit not in _TRADE:
        return found[0]
    trade, si = _TRADE[unit]
    value = in_unit(parse_quantity(f"{number} {unit}", si), si, trade)
    return f'"{value:.{DIGITS}g} {trade}"'
