"""Names of the analyses. Imports nothing: the command line must answer ``--help`` at once."""

OF_ONE_DESIGN = ("evaluate", "optimum", "defence")
EXPLORATIONS = ("map", "front", "sweep", "sensitivity", "scaling", "assurance", "motion")
ANALYSES = (*OF_ONE_DESIGN, *EXPLORATIONS)
DEFAULT_ANALYSES = ("evaluate", "optimum")
