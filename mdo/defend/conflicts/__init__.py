"""Conflicting requirements of an infeasible study."""
