"""The batched optimiser: published problems, and studies on the compiled chain."""
