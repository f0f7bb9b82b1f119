"""The camera against the outside: dark current, quantisation, efficiency.

Sources
-------
- Dark current: Widenhorn et al. 2001, J. Appl. Phys. 89, 8179 (activation law). The doubling steps in the list
  follow from it by ln 2 k T²/E, worked out apart from this code.
- Boltzmann constant: CODATA by way of astropy.constants.
- EMVA Standard 1288, Release 4.0 (2021): quantisation variance 1/12 step².
- Efficiency: Betoule et al. 2023, A&A 670, A119 (abstract): a large back-lit CMOS sensor has more than 50 % over
  most of the visible and a peak above 80 %.
- Mosaic: Bayer 1976, US Patent 3,971,065.
"""

import astropy.constants
import astropy.units as u
import numpy as np
import pytest

from expocalc.gear.camera import Camera
from expocalc.gear.curves import named_efficiency, typical_mosaic
from expocalc.gear.dark_current import (
    BOLTZMANN_EV_K,
    DarkCurrent,
    activation_energy_from_step,
    arrhenius,
    doubling_step,
)
from expocalc.gear.gain import GainSetting

# activation energy [eV], sensor temperature [deg_C], doubling step [K]
STEPS = [
    (0.55, -20, 7.0),
    (0.55, 0, 8.1),
    (0.55, 20, 9.3),
    (0.63, -20, 6.1),
    (0.63, 0, 7.1),
    (0.63, 20, 8.1),
    (1.12, -20, 3.4),
    (1.12, 0, 4.0),
    (1.12, 20, 4.6),
]


def test_boltzmann_constant():
    assert pytest.approx(astropy.constants.k_B.to_value(u.eV / u.K), rel=1e-9) == BOLTZMANN_EV_K


@pytest.mark.parametrize(("activation_ev", "at_deg_c", "step_k"), STEPS)
def test_doubling_step(activation_ev, at_deg_c, step_k):
    assert doubling_step(activation_ev, at_deg_c) == pytest.approx(step_k, abs=0.05, rel=0)


@pytest.mark.parametrize(("activation_ev", "at_deg_c", "step_k"), STEPS)
def test_warming_by_the_step_doubles(activation_ev, at_deg_c, step_k):
    # By the law itself, half a step to either side: the step's own rounding is 1.5 %, so the ratio is good to 2 %.
    warm = arrhenius(1.0, at_deg_c, at_deg_c + step_k / 2, activation_ev)
    cold = arrhenius(1.0, at_deg_c, at_deg_c - step_k / 2, activation_ev)
    assert float(warm / cold) == pytest.approx(2, rel=0.02)


def test_thirty_kelvin_are_not_five_doublings():
    # 6 K at -10 °C is 0.689 eV, and 30 K of warming then give a factor of 22, not 2^5 = 32
    assert activation_energy_from_step(6, -10) == pytest.approx(0.689, abs=0.0005, rel=0)
    dark = DarkCurrent(rate="0.002 electron/s", at="-10 deg_C", doubles_every="6 K")
    assert dark.rate_at(20) / dark.rate_at(-10) == pytest.approx(22, abs=0.5, rel=0)


@pytest.mark.parametrize(("native_step", "electrons_per_adu"), [(1, 0.8), (4, 0.25), (16, 1.0)])
def test_quantisation_adds_a_twelfth_of_a_step_squared(native_step, electrons_per_adu):
    # A million Gaussian values rounded to the converter's steps, noise well above the step.
    setting = GainSetting(
        read_noise="1.5 electron",
        electrons_per_adu=electrons_per_adu,
        native_step=native_step,
        full_well="50000 electron",
        read_noise_kind="emva",
    )
    step_e, count = native_step * electrons_per_adu, 1_000_000
    true = np.random.default_rng(1288).normal(0, 5 * step_e, count)
    added = np.var(step_e * np.round(true / step_e) - true)
    assert setting.quantisation_variance_e2 == pytest.approx(added, rel=4 * np.sqrt(0.8 / count))
    assert setting.quantisation_variance_e2 == pytest.approx(step_e**2 / 12, rel=1e-12)  # EMVA 1288


def test_a_bias_read_noise_holds_the_quantisation():
    setting = GainSetting(read_noise="1.5 electron", electrons_per_adu=4, full_well="50000 electron")
    assert setting.quantisation_variance_e2 == 0


def test_named_efficiency_is_of_the_published_kind():
    curve = named_efficiency("back-lit mono")
    visible = curve(np.arange(400, 701))
    assert visible.max() > 0.8
    assert (visible > 0.5).mean() > 0.9


def test_half_of_the_mosaic_is_green():
    camera = Camera(
        pixel="3.8 um",
        columns=100,
        rows=100,
        mosaic="RGGB",
        quantum_efficiency="back-lit colour",
        dark_current={"rate": "0 electron/s", "at": "0 deg_C", "activation": "0.63 eV"},
        gains={"only": {"read_noise": "1 e-", "electrons_per_adu": 1, "full_well": "1e4 e-"}},
    )
    assert camera.colour_share == {"R": 0.25, "G": 0.5, "B": 0.25}


@pytest.mark.parametrize(
    ("colour", "wavelength_nm", "share", "within"),
    [("R", 656.3, 0.90, 0.01), ("G", 500.7, 0.85, 0.01), ("B", 500.7, 0.60, 0.01), ("R", 500.7, 0.03, 0.02)],
)
def test_typical_mosaic(colour, wavelength_nm, share, within):
    # common practice, no source (from memory)
    assert float(typical_mosaic()[colour](wavelength_nm)) == pytest.approx(share, abs=within)
