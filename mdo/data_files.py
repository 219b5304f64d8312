"""Tables in a file beside the module that reads them: TOML, or CSV with one line of heads."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path
from typing import Any


def toml_beside(module: str, name: str = "") -> dict[str, Any]:
    """Return the content of a TOML file.

    Parameters
    ----------
    module : ``__file__`` of who reads it
    name : of the file without its ending; that of the module if left out
    """
    path = Path(module)
    return tomllib.loads(path.with_name(f"{name or path.stem}.toml").read_text(encoding="utf-8"))


def csv_beside(module: str) -> list[dict[str, str]]:
    """Return the lines of the CSV file of a module's name, by the heads of their columns."""
    with Path(module).with_suffix(".csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
