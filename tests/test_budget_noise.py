"""The noise of one sub: hand-worked regimes, limits, shapes, and subs made by chance."""

import math

import numpy as np
import pytest

from expocalc.budget.noise import hours_growth, noise_growth, shortest_sub_s, sub_snr, sub_variance_e2
from expocalc.gear.gain import GainSetting

# One row for each noise that dominates, worked by hand:
# target, sky, dark [e-/s], sub [s], read noise [e-]; variance [e-^2] = (sum of rates) x sub + read noise^2, and SNR.
REGIMES = {
    "target": (50.0, 0.5, 0.01, 100.0, 2.0, 5051 + 4, 5000 / math.sqrt(5055)),
    "sky": (0.1, 9.88, 0.02, 100.0, 2.0, 1000 + 4, 10 / math.sqrt(1004)),
    "dark": (0.1, 0.1, 4.8, 100.0, 2.0, 500 + 4, 10 / math.sqrt(504)),
    "read noise": (0.1, 0.1, 0.05, 16.0, 6.0, 4 + 36, 1.6 / math.sqrt(40)),
}


@pytest.mark.parametrize("regime", REGIMES)
def test_variance_and_snr_in_each_regime(regime):
    target, sky, dark, sub, read, variance, snr = REGIMES[regime]
    rate = target + sky + dark
    assert math.isclose(sub_variance_e2(rate, sub, read**2), variance, rel_tol=1e-12)
    assert math.isclose(sub_snr(target, rate, sub, read**2), snr, rel_tol=1e-12)


def test_photon_noise_alone_is_the_root_of_the_count():
    assert float(sub_snr(0.25, 0.25, 400.0, 0.0)) == 10.0


def test_bright_sky_makes_snr_grow_as_the_root_of_time():
    short, long = sub_snr(0.01, 100.0, [60.0, 240.0], 1.0)
    assert math.isclose(long / short, 2, rel_tol=1e-3)


def test_read_noise_alone_makes_snr_grow_as_time():
    short, long = sub_snr(1e-9, 1e-9, [60.0, 240.0], 1.0)
    assert math.isclose(long / short, 4, rel_tol=1e-6)


# --- growth of noise ---


def test_growth_by_hand():
    # 1 e-/s for 100 s with 21 e-^2 of reading: the root of 1.21
    assert math.isclose(noise_growth(1.0, 100.0, 21.0), 0.1, rel_tol=1e-12)
    # common practice, no source: 5 % of noise are 10 % of hours
    assert math.isclose(hours_growth(0.05), 0.1025, rel_tol=1e-12)
    # 9 e-^2 over (1.1^2 - 1) x 0.5 e-/s
    assert math.isclose(shortest_sub_s(0.5, 9.0, 0.1), 9 / (0.21 * 0.5), rel_tol=1e-12)


@pytest.mark.parametrize("growth", [0.001, 0.05, 0.5, 10.0])
def test_at_the_shortest_sub_noise_has_grown_by_what_was_allowed(growth):
    sub = shortest_sub_s(0.3, 1.7**2, growth)
    assert math.isclose(noise_growth(0.3, sub, 1.7**2), growth, rel_tol=1e-9)


def test_shortest_sub_goes_as_read_noise_squared_and_one_over_the_rate():
    base = shortest_sub_s(0.2, 1.5**2, 0.05)
    assert math.isclose(shortest_sub_s(0.2, 3.0**2, 0.05), 4 * base, rel_tol=1e-12)
    assert math.isclose(shortest_sub_s(0.8, 1.5**2, 0.05), base / 4, rel_tol=1e-12)


def test_without_read_noise_any_length_will_do():
    assert shortest_sub_s(0.2, 0.0, 0.05) == 0
    assert noise_growth(0.2, 1e-9, 0.0) == 0


def test_without_light_and_dark_no_length_will_do():
    assert shortest_sub_s(0.0, 1.0, 0.05) == math.inf
    assert noise_growth(0.0, 1e9, 1.0) == math.inf
    assert shortest_sub_s(0.0, 0.0, 0.05) == 0


# --- shapes ---


@pytest.mark.parametrize("function", [sub_variance_e2, noise_growth, shortest_sub_s])
def test_arrays_broadcast_and_nan_stays_where_it_is(function):
    rate = np.array([[0.1], [np.nan], [2.0]])
    second = np.array([30.0, 300.0]) if function is not shortest_sub_s else np.array([1.0, 2.0])
    found = function(rate, second, 2.25) if function is not shortest_sub_s else function(rate, second, 0.05)
    assert found.shape == (3, 2)
    assert np.isnan(found[1]).all()
    assert np.isfinite(found[[0, 2]]).all()
    third = 2.25 if function is not shortest_sub_s else 0.05
    for i, j in ((0, 0), (0, 1), (2, 1)):
        assert float(found[i, j]) == float(function(float(rate[i, 0]), float(second[j]), third))


def test_snr_of_many_targets_is_that_of_each():
    targets = np.array([0.1, 0.2, 0.4])
    assert np.array_equal(sub_snr(targets, targets + 1, 60.0, 2.0), [sub_snr(s, s + 1, 60.0, 2.0) for s in targets])


# --- quantisation ---


def setting(kind, step=1):
    return GainSetting(
        read_noise="1.5 electron",
        electrons_per_adu=1.0,
        native_step=step,
        full_well="60000 electron",
        read_noise_kind=kind,
    )


def test_quantisation_is_added_once_to_an_emva_read_noise_only():
    # EMVA Standard 1288, Release 4.0 (2021): the variance of quantisation is 1/12 of a step squared, apart from the
    # dark noise; a read noise measured from bias frames was measured with it.
    assert setting("bias", 4).read_variance_e2 == 1.5**2
    assert setting("emva", 4).read_variance_e2 == 1.5**2 + 16 / 12
    assert setting("emva", 1).read_variance_e2 == 1.5**2 + 1 / 12


# --- subs made by chance ---

SUBS = 400_000


def one_sub(rng, rate, sub, read, step):
    """Pixels of a sub: photons and dark by chance, the amplifier's noise, the converter's steps."""
    electrons = rng.poisson(rate * sub, SUBS) + rng.normal(0, read, SUBS)
    return np.round(electrons / step) * step


@pytest.mark.parametrize("step", [1, 4])
@pytest.mark.parametrize(("rate", "sub", "read"), [(0.5, 600, 1.5), (0.01, 100, 3.5), (3.0, 10, 6.0), (0.2, 30, 1.5)])
def test_noise_of_subs_made_by_chance(rate, sub, read, step):
    made = one_sub(np.random.default_rng(2026), rate, sub, read, step)
    expected = sub_variance_e2(rate, sub, read**2 + setting("emva", step).quantisation_variance_e2)
    # A sample variance has the variance (fourth moment - variance^2) / n; of Poisson and normal noise together the
    # fourth central moment is 3 variance^2 + rate x sub.
    error = math.sqrt((2 * expected**2 + rate * sub) / SUBS)
    assert abs(made.var(ddof=1) - expected) < 4 * error
    # the test could tell quantisation from none where the step is coarse
    if step == 4 and expected < 10:
        assert 16 / 12 > 8 * error
