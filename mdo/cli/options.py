"""Arguments that several verbs of the command line take, each as a parser of its own."""

from __future__ import annotations

import argparse
from typing import Any


def option(name: str, **look: Any) -> argparse.ArgumentParser:
    """Return a parser of one argument, to be a parent of those of verbs."""
    parser = argparse.ArgumentParser(add_help=False)
    parser.add_argument(name, **look)
    return parser


QUIET = option("--quiet", action="store_true", help="no progress on the error stream")
JSON = option("--json", action="store_true", help="print JSON, in SI units")
