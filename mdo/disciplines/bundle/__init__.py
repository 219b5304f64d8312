"""Bundle of tubes: topology, packing in the wing, gears, end fittings."""
