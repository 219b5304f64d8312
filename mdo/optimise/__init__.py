"""One optimum and thousands: starts, SLSQP with its Newton end, the batch, whole tubes."""
