"""Sweeps: samples against their definitions, designs against one evaluation at a time."""
