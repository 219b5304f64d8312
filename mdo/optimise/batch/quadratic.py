r"""The elastic quadratic subproblem of one lane, by a primal-dual interior point method.

.. math::
    \min_{d, s}\ \tfrac12 d^T H d + g^T d + \rho s \quad\text{s.t.}\quad
    A d + c + s \ge 0,\ l \le d \le u,\ s \ge 0

One slack for all rows, so that it always has an interior and its optimum has the least violation of
the linear rows where they contradict each other. Predictor and corrector after Mehrotra (SIAM J.
Optim. 2, 1992), for convex quadratic problems as in Nocedal & Wright, Numerical Optimization, 2nd
ed., ch. 16.6 (both from memory). Written for one lane; batching is outside.
"""

from __future__ import annotations

from typing import NamedTuple

import jax
import jax.numpy as jnp
from jax import Array
from jax.scipy.linalg import cho_solve

MOST_STEPS = 22
SHARE = 0.995  # of the way to the boundary
SMALL = 1e-13  # complementarity and residuals, relative, from which nothing is left to gain
RIDGE = 1e-11  # on the diagonal of the matrix, relative


class Qp(NamedTuple):
    """Data of a subproblem: shapes (n, n), (n,), (k, n), (k,), (n,), (n,), ()."""

    H: Array
    g: Array
    A: Array
    c: Array
    lower: Array
    upper: Array
    rho: Array


class QpSolution(NamedTuple):
    """Step, slack, multipliers of rows and of the bounds, distances of the rows, steps taken."""

    d: Array
    s: Array
    rows: Array
    at_lower: Array
    at_upper: Array
    distance: Array
    steps: Array


class _Iterate(NamedTuple):
    """Variables (d, s), distances and multipliers of rows, lower and upper bounds in one vector."""

    y: Array
    w: Array
    lam: Array
    steps: Array
    done: Array


def solve_qp(qp: Qp) -> QpSolution:
    """Solve one subproblem; the work is that of the slowest lane of a batch."""
    form = _Form(qp)
    end = jax.lax.while_loop(
        lambda at: ~at.done & (at.steps < MOST_STEPS), form.advance, form.start()
    )
    k, n = qp.A.shape
    return QpSolution(
        d=jnp.clip(end.y[:n], qp.lower, qp.upper), s=jnp.maximum(end.y[n], 0.0),
        rows=end.lam[:k], at_lower=end.lam[k : k + n], at_upper=end.lam[k + n + 1 :],
        distance=end.w[:k], steps=end.steps,
    )  # fmt: skip


class _Form:
    """The subproblem as ``min 1/2 y'Qy + q'y, G y + h >= 0`` with ``y = (d, s)``."""

    def __init__(self, qp: Qp) -> None:
        k, n = qp.A.shape
        self.n, self.k = n, k
        self.Q = jnp.zeros((n + 1, n + 1)).at[:n, :n].set(qp.H)
        self.q = jnp.append(qp.g, qp.rho)
        self.A = jnp.hstack([qp.A, jnp.ones((k, 1))])
        self.h = jnp.concatenate([qp.c, -qp.lower, jnp.zeros(1), qp.upper])
        self.size = 1.0 + jnp.abs(self.q).max()

    def rows(self, y: Array) -> Array:
        """``G y``."""
        return jnp.concatenate([self.A @ y, y, -y[: self.n]])

    def rows_adjoint(self, lam: Array) -> Array:
        """``G' lam``."""
        k, n = self.k, self.n
        upper = jnp.append(lam[k + n + 1 :], 0.0)
        return self.A.T @ lam[:k] + lam[k : k + n + 1] - upper

    def factor(self, weight: Array) -> Array:
        """Cholesky factor of ``Q + G' diag(weight) G``."""
        k, n = self.k, self.n
        bounds = weight[k : k + n + 1] + jnp.append(weight[k + n + 1 :], 0.0)
        matrix = self.Q + (self.A.T * weight[:k]) @ self.A + jnp.diag(bounds)
        ridge = RIDGE * (1.0 + jnp.diag(self.Q))
        factor: Array = jnp.linalg.cholesky(matrix + jnp.diag(ridge))
        return factor

    def start(self) -> _Iterate:
        """Starting point: an affine step from ones, pushed off the boundary."""
        y = jnp.zeros(self.n + 1).at[self.n].set(jnp.maximum(0.0, -self.h[: self.k].min()) + 0.1)
        w = jnp.maximum(self.rows(y) + self.h, 1e-2)
        lam = jnp.full_like(w, 1.0)
        at = _Iterate(y, w, lam, jnp.array(0), jnp.array(False))
        dy, dw, dlam = self._direction(at, self.factor(lam / w), w * lam)
        fine = jnp.isfinite(dy).all()
        return at._replace(
            w=jnp.where(fine, jnp.maximum(jnp.abs(w + dw), 1e-2), w),
            lam=jnp.where(fine, jnp.maximum(jnp.abs(lam + dlam), 1.0), lam),
        )

    def _direction(self, at: _Iterate, factor: Array, product: Array) -> tuple[Array, Array, Array]:
        """Newton direction that takes ``w * lam`` to ``w * lam - product``, to first order."""
        dual = self.Q @ at.y + self.q - self.rows_adjoint(at.lam)
        primal = self.rows(at.y) + self.h - at.w
        right = -dual - self.rows_adjoint((product + at.lam * primal) / at.w)
        dy = cho_solve((factor, True), right)
        dw = self.rows(dy) + primal
        return dy, dw, (-product - at.lam * dw) / at.w

    def advance(self, at: _Iterate) -> _Iterate:
        """One step of predictor and corrector."""
        factor = self.factor(at.lam / at.w)
        product = at.w * at.lam
        gap = product.mean()
        _, dw, dlam = self._direction(at, factor, product)
        share = jnp.minimum(_longest(at.w, dw), _longest(at.lam, dlam))
        ahead = ((at.w + share * dw) * (at.lam + share * dlam)).mean()
        centre = (ahead / gap) ** 3 * gap
        dy, dw, dlam = self._direction(at, factor, product + dw * dlam - centre)
        share = SHARE * jnp.minimum(_longest(at.w, dw), _longest(at.lam, dlam))
        new = _Iterate(
            at.y + share * dy, at.w + share * dw, at.lam + share * dlam, at.steps + 1, at.done
        )
        fine = jnp.isfinite(new.y).all() & jnp.isfinite(new.lam).all() & jnp.isfinite(new.w).all()
        kept: _Iterate = jax.tree.map(lambda a, b: jnp.where(fine, a, b), new, at)
        return kept._replace(done=~fine | self._solved(kept), steps=at.steps + 1)

    def _solved(self, at: _Iterate) -> Array:
        dual = jnp.abs(self.Q @ at.y + self.q - self.rows_adjoint(at.lam)).max()
        primal = jnp.abs(self.rows(at.y) + self.h - at.w).max()
        gap = (at.w * at.lam).mean()
        return jnp.maximum(jnp.maximum(dual, gap) / self.size, primal) < SMALL * 10.0


def _longest(values: Array, step: Array) -> Array:
    """Largest share of a step, at most 1, that keeps values positive."""
    return jnp.minimum(1.0, jnp.where(step < 0.0, -values / step, jnp.inf).min())
