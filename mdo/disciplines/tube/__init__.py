"""Tubes of shape-memory alloy: response of the alloy, torsion, demand of each leg, life."""
