"""Many constrained problems of one model at once: a batched sequential quadratic programming.

``qp`` solves the elastic subproblem of one lane, ``sqp`` takes one lane through one iteration,
``lanes`` keeps a fixed number of lanes busy from a queue, ``chain_problems`` makes the queue out of
studies. Methods and their sources stand in the modules.
"""
