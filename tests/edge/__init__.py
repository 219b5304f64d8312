"""What users may do wrong, and what surrounds a run."""
