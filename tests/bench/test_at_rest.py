"""The start of a log is read before any heat, however soon the heater is on."""

import numpy as np
import pytest

from mdo.bench.assembly import _at_rest, _start


@pytest.mark.parametrize(("off", "wanted"), [(0, 1), (1, 1), (4, 4), (300, 300), (500, 500)])
def test_start_is_read_of_the_samples_before_the_first_heat(off: int, wanted: int) -> None:
    # a tube that warms by 10 K a sample once it is heated: its start is what it was before
    power = np.zeros((500, 2))
    power[off:, 1] = 300.0
    kelvin = 290.0 + 10.0 * np.maximum(np.arange(500.0) - off + 1.0, 0.0)
    rest = _at_rest(power)
    assert rest.stop == wanted
    if off:
        assert np.median(kelvin[rest]) == 290.0


@pytest.mark.parametrize("shape", [(6,), (6, 2)])
def test_start_that_is_missing_is_the_first_sample_that_is_there(shape: tuple[int, ...]) -> None:
    measured = 290.0 + np.broadcast_to(np.arange(6.0), shape[::-1]).T
    assert _start(measured, slice(0, 3)) == 291.0
    measured = measured.copy()
    measured[:2] = np.nan  # both samples before the first heat
    assert _start(measured, slice(0, 2)) == 292.0
