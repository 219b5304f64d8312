"""Size, explore and defend wing-fold actuators made of shape-memory-alloy torque tubes."""

from __future__ import annotations
