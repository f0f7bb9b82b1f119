"""Electrons per second and the CCD equation against reference libraries, and facts of the trade.

[synphot] STScI synphot: `Observation.countrate` of given arrays. [astropy] `astropy.stats.signal_to_noise_oir_ccd`.
"""

import math

import astropy.units as u
import numpy as np
import pytest
from astropy.stats import signal_to_noise_oir_ccd
from synphot import Empirical1D, Observation, SourceSpectrum, SpectralElement, units

from expocalc.base.curve import Curve, Spectrum
from expocalc.base.photometry import ab_continuum, vega_spectrum
from expocalc.budget.noise import hours_growth, noise_growth, shortest_sub_s, sub_snr
from expocalc.gear.camera import Camera
from expocalc.gear.filter import Filter
from expocalc.gear.response import response
from expocalc.gear.telescope import Telescope

TELESCOPE = Telescope(aperture="102 mm", focal_length="510 mm", obstruction="30 mm", throughput=0.9)
CAMERA = Camera(
    pixel="3.8 um",
    columns=100,
    rows=100,
    quantum_efficiency=[[300, 0.4], [550, 0.9], [1100, 0.1]],
    dark_current={"rate": "0 electron/s", "at": "0 deg_C", "doubles_every": "6 K"},
    gains={"one": {"read_noise": "1 electron", "electrons_per_adu": 1, "full_well": "50000 electron"}},
)
FILTERS = {
    "narrow": [{"centre": "656.3 nm", "width": "5 nm", "peak": 0.88}],
    "dual": [{"centre": "500.7 nm", "width": "6 nm"}, {"centre": "656.3 nm", "width": "6 nm"}],
    "Gaussian": [{"centre": "600 nm", "width": "60 nm", "shape": "gaussian"}],
    "V": [{"standard": "bessell-V"}],
}
SOURCES = {"flat in F_nu, AB 15": ab_continuum(15.0), "Vega": vega_spectrum()}


def theirs(source: Curve, curve: Curve) -> float:
    """Counts per second by synphot, from the same nodes."""
    light = SourceSpectrum(
        Empirical1D, points=source.wavelength_nm * 10, lookup_table=source.value / 10 * units.PHOTLAM
    )
    band = SpectralElement(Empirical1D, points=curve.wavelength_nm * 10, lookup_table=curve.value)
    fine = np.unique(np.concatenate((source.wavelength_nm, curve.wavelength_nm, np.arange(300, 1100, 0.05)))) * 10
    seen = Observation(light, band, binset=fine * u.AA, force="taper")
    return seen.countrate(area=TELESCOPE.area_cm2 * u.cm**2).value


@pytest.mark.filterwarnings("ignore")  # of synphot about spectra that end inside the band
@pytest.mark.parametrize("source", SOURCES)
@pytest.mark.parametrize("name", FILTERS)
def test_count_rate_of_synphot(name, source):
    curve = response(TELESCOPE, Filter(name=name, passbands=FILTERS[name]), CAMERA)
    ours = Spectrum(SOURCES[source]).through(curve) * TELESCOPE.area_cm2
    # 0.3 %: synphot sums bins, and the edges of a box fall between its nodes
    assert ours == pytest.approx(theirs(SOURCES[source], curve), rel=3e-3)


@pytest.mark.parametrize("target", [0.001, 1.0, 50.0])
@pytest.mark.parametrize("sky", [0.01, 3.0])
@pytest.mark.parametrize(("dark", "read"), [(0.0, 1.4), (0.2, 9.0)])
def test_ccd_equation_of_astropy(target, sky, dark, read):
    ours = sub_snr(target, target + sky + dark, 300.0, read**2)
    assert float(ours) == pytest.approx(signal_to_noise_oir_ccd(300.0, target, sky, dark, read, 1), rel=1e-12)


def test_an_image_is_sky_limited_when_read_noise_adds_five_per_cent():
    """Common practice, no source: then sky and all other photons outweigh read noise squared by ten, nearly."""
    sub_s = float(shortest_sub_s(0.1, 1.4**2, 0.05))
    assert 0.1 * sub_s / 1.4**2 == pytest.approx(10, rel=0.03)
    assert float(noise_growth(0.1, sub_s, 1.4**2)) == pytest.approx(0.05, rel=1e-12)
    assert float(hours_growth(0.05)) == pytest.approx(0.10, abs=0.003)


def test_growth_of_noise_by_hand():
    """9.756, 4.762, 24.75 and 49.75 times read variance over rate for 5, 10, 2 and 1 per cent: 1 / ((1 + p)^2 - 1)."""
    for growth, times in ((0.05, 9.756), (0.10, 4.762), (0.02, 24.75), (0.01, 49.75)):
        assert float(shortest_sub_s(2.0, 8.0, growth)) == pytest.approx(4 * times, rel=2e-4)
        assert math.sqrt(1 + 1 / times) - 1 == pytest.approx(growth, rel=1e-3)
