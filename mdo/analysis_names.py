"""Names of analyses and of first studies. Imports nothing: ``--help`` must answer at once."""

OF_ONE_DESIGN = ("evaluate", "optimum", "defence")
EXPLORATIONS = ("map", "front", "sweep", "sensitivity", "scaling", "assurance", "motion")
ANALYSES = (*OF_ONE_DESIGN, *EXPLORATIONS)
DEFAULT_ANALYSES = ("evaluate", "optimum")
FIRST_STUDIES = ("deck", "flight", "both", "bench")
