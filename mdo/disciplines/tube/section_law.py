"""Law of the section of a tube: how its mean stress, its strain and its wall belong together.

Each level of the tubes writes one such law; moments, twists and rows are the same for all of them.
Stresses are means over the section, ``T/(A r_w)`` [Pa]; strains are those at the effective radius
r_w [1]; what is locked in has the points of the wall as its last axis where a level has any.
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable
from typing import Any, NamedTuple

from jax import Array

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube import torsion


class SectionLaw(NamedTuple):
    """Functions of one section and alloy; stresses [Pa], strains [1], temperatures [K].

    Attributes
    ----------
    radius
        Points of the wall [m], (P,).
    drag
        Stress of a cold tube unwound by a strain: ``drag(strain)``.
    cold_stress
        Stress of a cold set at a strain: ``cold_stress(strain, retwist)``.
    cold_lock
        Transformation strain of a cold set at a strain: ``cold_lock(strain, retwist)``.
    cold_under
        Strain and transformation strain of a set cooled under a stress: ``cold_under(stress)``.
    hot_under
        Strain and outer-fibre stress of a hot set under a stress, without what a path leaves in the
        wall: ``hot_under(stress, temperature, locked)``.
    hot_wall
        Stress at the points of the wall of a hot set at a strain, points last: ``hot_wall(strain,
        temperature, locked)``.
    mean
        Mean stress of a wall: ``mean(wall_stress)``.
    stall
        Mean and outer-fibre stress of each set blocked where its legs start and heated, (2,) each:
        ``stall(strain, temperature, locked, pushes_up)``, strain (legs,).
    """

    radius: Array
    drag: Callable[[Array], Array]
    cold_stress: Callable[[Array, Array], Array]
    cold_lock: Callable[[Array, Array], Array]
    cold_under: Callable[[Array], tuple[Array, Array]]
    hot_under: Callable[[Array, Array, Array], tuple[Array, Array]]
    hot_wall: Callable[[Array, Array, Array], Array]
    mean: Callable[[Array], Array]
    stall: Callable[[Array, Array, Array, Array], tuple[Array, Array]]


LawOf = Callable[[torsion.Section, Array, Alloy], SectionLaw]


def by_law(function: Callable[..., Any], law_of: LawOf, name: str) -> Callable[..., Any]:
    """Function of a level: `function` with the law of that level, which is its first argument.

    The name, with the module of the law, tells the compiled chains of two levels apart; the
    arguments that are left are the wiring.
    """

    @functools.wraps(function)
    def at_level(**given: Any) -> Any:
        return function(law_of, **given)

    signature = inspect.signature(function)
    left = [entry for key, entry in signature.parameters.items() if key != "law_of"]
    at_level.__signature__ = signature.replace(parameters=left)  # type: ignore[attr-defined]
    at_level.__annotations__ = {
        key: value for key, value in function.__annotations__.items() if key != "law_of"
    }
    at_level.__module__ = law_of.__module__
    at_level.__qualname__ = at_level.__name__ = name
    return at_level
