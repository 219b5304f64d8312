"""Run the analyses of a study, make a report again, tell how far a run is."""
