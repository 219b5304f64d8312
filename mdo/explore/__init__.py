"""Many designs of a study: maps, fronts, sweeps, sensitivities, scaling."""
