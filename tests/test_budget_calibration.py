import math

import numpy as np
import pytest

from expocalc.budget.calibration import Calibration, common_variance_e2


def test_perfect_calibration_adds_nothing():
    assert common_variance_e2(1e4, 50.0, 9.0, Calibration()) == 0


def test_darks_average_their_dark_current_and_read_noise():
    assert common_variance_e2(0.0, 6.0, 3.0**2, Calibration(darks=30)) == pytest.approx(15 / 30)


def test_flats_add_a_share_of_the_light_not_of_the_dark():
    """100 flats of 10,000 electrons tell each pixel to one part in a thousand."""
    for dark_e in (0.0, 500.0):
        found = common_variance_e2(2000.0, dark_e, 9.0, Calibration(flats=100, flat_e=1e4))
        assert math.sqrt(found) == pytest.approx(2000 / 1000)


def test_patterns_add_in_quadrature():
    found = common_variance_e2(1000.0, 5.0, 4.0, Calibration(fixed_e=3.0, flat_pattern=0.004))
    assert math.sqrt(found) == pytest.approx(5.0)


def test_more_frames_never_hurt():
    counts = np.geomspace(1, 1e6, 50)
    for kind in ("darks", "flats"):
        found = common_variance_e2(300.0, 5.0, 4.0, Calibration(flat_e=2e4, **{kind: counts}))
        assert np.all(np.diff(found) < 0)


def test_arrays_broadcast():
    found = common_variance_e2(np.ones((4, 1, 3)), 2.0, np.ones((5, 1)), Calibration(darks=np.full((5, 3), 2.0)))
    assert found.shape == (4, 5, 3)
