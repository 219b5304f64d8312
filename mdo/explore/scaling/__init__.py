"""A family of vehicles of one shape, scaled by three laws and optimised at each size."""
