"""What pages are made of: HTML templates, macros, style sheets and scripts, filled in by jinja2.

Everything that a template prints is escaped; a piece that is HTML already is :class:`Markup`.
"""

from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from mdo.report.words import printed
from mdo.study.number_text import figure, percent

FOLDER = Path(__file__).parent


def as_it_is(name: str) -> Markup:
    """Style sheet or script of this folder, printed into a page as it is."""
    return Markup((FOLDER / name).read_text(encoding="utf-8"))


def plotting_library() -> Markup:
    """Script that draws the figures; pages carry it, since they use no network."""
    from plotly.offline import get_plotlyjs

    return Markup(get_plotlyjs())


@cache
def _environment() -> Environment:
    made = Environment(
        loader=FileSystemLoader(FOLDER), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    made.globals |= {"as_it_is": as_it_is, "plotting_library": plotting_library}
    made.filters |= {
        name: getattr(printed, name) for name in ("degrees", "number", "pretty", "prose")
    }
    made.filters |= {"margin": printed.margin_words, "step": printed.step_words}
    made.filters |= {"figure": figure, "percent": percent}
    for name in ("pieces", "choosing"):
        made.globals[name] = made.get_template(f"{name}.html").module
    return made


def render(name: str, **context: Any) -> Markup:
    """Return a template of this folder, filled in.

    Parameters
    ----------
    name : of the file
    context : what the template prints, by name; a name that it lacks is an error
    """
    return Markup(_environment().get_template(name).render(**context))


def macro(template: str, name: str, **given: object) -> Markup:
    """Return what a macro of a template of this folder prints.

    Parameters
    ----------
    template, name : of the file and of the macro in it
    given : its arguments
    """
    return Markup(getattr(_environment().get_template(template).module, name)(**given))
