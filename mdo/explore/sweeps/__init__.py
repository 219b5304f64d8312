"""Sweeps: very many designs of a study evaluated as they are, each with its verdict.

``space`` draws points of the unit cube and turns them into values of axes and design vectors,
``list_file`` reads designs instead, ``sweep`` is the analysis: does chunks of them and joins them.
"""
