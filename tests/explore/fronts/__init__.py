"""Tests of fronts."""
