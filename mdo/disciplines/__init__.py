"""The physics: pure functions of arrays in SI units.

Double precision is switched on here, before any array exists: every module of the package that
computes imports from this layer first.
"""

import jax

jax.config.update("jax_enable_x64", True)
