"""Pareto fronts in two and three objectives: exact points, spread evenly, by bounded optima.

``known_points`` keeps what was solved and finds the ends, ``curve`` traces two objectives and
``surface`` three, against any solver of bounds; ``study_front`` makes a study and its objectives
such a solver; ``front`` is the analysis.
"""
