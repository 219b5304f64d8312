"""Optima of one study at thousands of points of its axes.

``model`` makes the compiled chain a model of the batched optimiser, ``bench`` solves points in one
process, ``worker`` does a chunk and says what came out, ``optima`` goes through all points in
levels, each started from its neighbours; ``counts`` cross-checks verdicts.
"""
