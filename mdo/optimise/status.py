"""What an optimisation of one point of many came to, in words; the same in every table."""

FEASIBLE, INFEASIBLE, OPEN = "feasible", "infeasible", "not settled"
STATUSES = (FEASIBLE, INFEASIBLE, OPEN)
SETTLED = 1e-5  # KKT residual with which a design that can gain nothing more counts as an optimum
NO_STUDY = "not a study"
