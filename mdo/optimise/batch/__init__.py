"""Many constrained problems of one model at once: a batched sequential quadratic programming.

``quadratic`` solves the elastic subproblem of one lane, ``iteration`` takes one lane through one
iteration, ``functions`` compiles these for a number of lanes, ``solve`` keeps the lanes busy from a
queue of problems. Methods and their sources stand in the modules; :mod:`mdo.optimise.many` makes
the queue out of points of a study.
"""
