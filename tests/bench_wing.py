"""One tube of `bench_500_45_45` as it was sized once: what is tested is what comes after."""

from __future__ import annotations

from pathlib import Path

STUDY = Path(__file__).parents[1] / "studies" / "bench_500_45_45.toml"
DESIGN = [
    0.0066923139640472275, 0.5237540954834672, 0.2976823817787388, 1.0, 1.0, 164470168.1279098,
    120860765.98088054, 1.0, 1.829760985905053, 2.0734511513692633, 312.57586473288785,
    49.99999999999999, 473.6928097553374, 0.0021524053351966313, 57.49241451380832,
    3.6600807840643306,
]  # fmt: skip
