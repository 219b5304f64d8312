"""The prelude: outputs of a study that no design variable reaches, found once per parameters.

Its dear parts (the lifting surfaces) read little of what it reads: they are solved by themselves,
and what was solved for the same wing, Mach numbers and angles serves again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from types import MappingProxyType
from typing import Any

import jax
import numpy as np
from jax import Array
from numpy.typing import NDArray

from mdo.disciplines.levels import Dear
from mdo.model.declaration import Discipline, run_disciplines
from mdo.model.kept import cheap_options, remembered, shared
from mdo.model.layout import pack, unpacking


class Prelude:
    """Outputs of disciplines that no design variable reaches.

    Parameters
    ----------
    disciplines : in order; their dear parts take parameters alone
    parameters : a sample of the parameters
    identity : all that the disciplines depend on beside arguments and sources; None keeps nothing
    """

    def __init__(
        self,
        disciplines: tuple[Discipline, ...],
        parameters: Mapping[str, Any],
        identity: str | None,
    ) -> None:
        self._disciplines, self._identity = disciplines, identity
        self._unpack = unpacking(parameters)
        self._dear = {item.name: item for item in disciplines if item.dear is not None}
        self._outputs: dict[bytes, Any] = {}
        self._solutions: dict[bytes, Any] = {}
        self._slopes: dict[bytes, Any] = {}
        places = self._unpack(np.arange(pack(parameters).size))
        names = {name for item in disciplines for name in item.quantities + item.records}
        read = {name: places[name] for name in names & places.keys()}
        self.read: NDArray[np.intp] = pack(read).astype(int)
        """Places in theta of what the prelude reads: nothing else moves it."""
        self._asked, self._asked_along = self._compiled("asked", self._ask)
        self._solve, self._solve_along = self._compiled("solved", self._solve_asked)
        self._rest, self._rest_along = self._compiled("prelude", self.evaluate)

    def evaluate(
        self, theta: Array, solved: Mapping[str, Any] = MappingProxyType({})
    ) -> dict[str, Any]:
        """Outputs by name; ``solved``: dear parts that are known, by discipline."""
        known = self._unpack(theta)
        values = run_disciplines(self._disciplines, known, solved)
        return {name: value for name, value in values.items() if name not in known}

    def __call__(self, theta: Any) -> Any:
        """Outputs by name, compiled; those of the last parameters are remembered.

        Designs in whole tubes are solved many times with other bounds of the same study, and most
        numbers of a study move no load.
        """
        key = np.asarray(theta)[self.read].tobytes()
        return remembered(self._outputs, key, lambda: self._rest(theta, self.solved(theta)))

    def solved(self, theta: Any) -> Any:
        """Dear parts by discipline; those that were solved last are remembered."""
        if not self._dear:
            return {}
        asked = self._asked(theta)
        return remembered(self._solutions, _key(asked), lambda: self._solve(asked))

    def slope(self, theta: Any, direction: Any) -> Any:
        """Exact derivative of the outputs along one direction in theta."""
        solved = self.solved(theta)
        turned = _still(solved)
        if self._dear:
            asked, along = self._asked_along((theta,), (direction,))
            for name, item in self._dear.items():
                if item.dear is not None:
                    turned[name] = self._turned(asked, along[name], solved[name], name, item.dear)
        return plain(self._rest_along((theta, solved), (direction, plain(turned)))[1])

    def _turned(self, asked: Any, along: Any, solved: Any, name: str, dear: Dear) -> Any:
        """Derivative of one dear part: of what all points share, and of what each has of its own.

        The slopes along the second serve every direction.
        """
        still, turned = _still(asked), _still(solved)
        first = len(along) - dear.pointwise

        def slopes(*arguments: Any) -> Any:
            direction = {**still, name: plain(arguments)}
            key = _key((asked, direction))
            find = partial(self._solve_along, (asked,), (direction,))
            return remembered(self._slopes, key, lambda: find()[1][name])

        if _moves(along[:first]):
            turned = slopes(*along[:first], *still[name][first:])
        for place in range(first, len(along)):
            if _moves(along[place]):
                unit = [np.zeros_like(part) for part in still[name][first:]]
                unit[place - first] = np.ones_like(unit[place - first])
                own = slopes(*still[name][:first], *unit)
                turned = _added(turned, own, np.asarray(along[place]))
        return turned

    def _ask(self, theta: Any) -> dict[str, Any]:
        known = self._unpack(theta)
        return {
            name: item.dear.asked(**item.arguments(known))
            for name, item in self._dear.items()
            if item.dear is not None
        }

    def _solve_asked(self, asked: dict[str, Any]) -> dict[str, Any]:
        return {
            name: item.dear.solve(*asked[name])
            for name, item in self._dear.items()
            if item.dear is not None
        }

    def _compiled(self, what: str, function: Callable[..., Any]) -> tuple[Any, Any]:
        """Compile a function of the prelude and its slope; levels of heat and tubes share them."""
        of = self._identity
        return (
            shared(function, of and f"{of}\n{what}", cheap_options()),
            shared(partial(jax.jvp, function), of and f"{of}\n{what} along", cheap_options()),
        )


def plain(tree: Any) -> Any:
    """Arrays of numpy: those of a device count as other arguments, and are compiled for again."""
    return jax.tree.map(np.asarray, tree)


def _still(tree: Any) -> Any:
    return jax.tree.map(np.zeros_like, tree)


def _moves(tree: Any) -> bool:
    return any(np.any(leaf) for leaf in jax.tree.leaves(tree))


def _key(tree: Any) -> bytes:
    return b"".join(np.asarray(leaf).tobytes() for leaf in jax.tree.leaves(tree))


def _added(turned: Any, slopes: Any, by: NDArray[np.float64]) -> Any:
    """Slopes of each point times its own factor, added."""
    return jax.tree.map(
        lambda all_, slope: all_ + slope * by.reshape(-1, *[1] * (slope.ndim - 1)), turned, slopes
    )
