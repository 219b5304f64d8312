"""Many constrained problems of one model at once: a batched sequential quadratic programming.

``qp`` solves the elastic subproblem of one lane, ``sqp`` takes one lane through one iteration,
``memory`` holds what all lanes remember, ``lanes`` keeps a fixed number of them busy from a queue.
Methods and their sources stand in the modules; :mod:`mdo.optimise.many` makes the queue out of
points of a study.
"""
