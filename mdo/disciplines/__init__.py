"""The physics: pure functions of arrays in SI units."""
