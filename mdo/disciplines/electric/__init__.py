"""Power from the bus, wiring, source of the energy."""
