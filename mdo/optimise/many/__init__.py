"""Optima of one study at thousands of points of its axes.

``model`` makes the compiled chain a model of the batch, ``points`` solves points in one process,
``chunk`` does a chunk and says what came out, ``solution`` is its record, ``optima`` goes through
all points in levels, each started from its ``neighbours``; ``count_check`` cross-checks verdicts.
"""
