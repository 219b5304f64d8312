"""Analyses of a study: evaluation, optimum, and what is read off them."""
