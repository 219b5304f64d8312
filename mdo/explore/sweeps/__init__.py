"""Sweeps: very many designs of a study evaluated as they are, each with its verdict.

``samples`` draws points of the unit cube, ``list_file`` reads designs instead, ``space`` turns them
into values of axes and design vectors, ``evaluate`` does a chunk of them, ``sweep`` is the analysis
and joins what the chunks gave.
"""
