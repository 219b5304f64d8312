"""Whole tubes, stock sizes and what rounding costs."""
