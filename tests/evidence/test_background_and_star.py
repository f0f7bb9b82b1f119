"""What the background's estimate and a star's fit add to the noise, against simulations of counts in pixels."""

from pathlib import Path

import numpy as np
import pytest

from expocalc.budget.answer import answer
from expocalc.plan import Plan

PLANS = Path(__file__).resolve().parents[2] / "notebooks" / "plans"
BARE = {
    **{("routine", name): "perfect" for name in ("darks", "flats", "background_flatness")},
    **{("routine", name): None for name in ("dither_every", "lost_per_hour", "longest_sub")},
}
MONO = Plan.read(PLANS / "mono-single-lines.toml").with_values(
    {
        **BARE,
        ("routine", "stacking"): "mean",
        ("routine", "sub_length"): "100 s",
        ("camera", "pixel"): "4.848136811 um",
        ("telescope", "focal_length"): "500 mm",  # 2 arcsec a pixel
        ("telescope", "aperture"): "100 mm",
    }
)
SIDE, AROUND = 4, 8
"""Pixels along the patch, and along the square that tells the background."""
PATCH = {("target", "patch"): f"{2 * SIDE} arcsec", ("routine", "background_patch"): f"{2 * AROUND} arcsec"}
TRIALS = 40_000


def one_row(changes):
    plan = MONO.with_values({("filters",): MONO.values["filters"][:1], **PATCH, **changes})
    (row,) = answer(plan.case).rows
    return plan.case, row


@pytest.mark.parametrize(("brightness", "sky"), [("3000 R", 21.5), ("20 R", 18.0)])
def test_the_background_s_error_counts_on_all_but_the_target_s_own_photons(brightness, sky):
    """Target far above the sky, and far below it: mean of the square around taken off the patch, pixel by pixel."""
    case, row = one_row(
        {
            ("target", "light"): [{"line": "H-alpha", "brightness": brightness}],
            ("sky", "zenith_brightness"): f"{sky} mag/arcsec2",
        }
    )
    behind, read = (row.sky_e_s + row.dark_e_s) * 100, float(case.camera.setting.read_noise.value)
    random = np.random.default_rng(8)

    def counts(electrons, pixels):
        return random.poisson(electrons * pixels, TRIALS) + random.normal(0, read * pixels**0.5, TRIALS)

    target = row.target_e_s * 100
    found = counts(target + behind, SIDE**2) - (SIDE / AROUND) ** 2 * counts(behind, AROUND**2)
    # the mean of the trials is known to 1 / SNR of itself over their root, the spread far better: each by its own error
    assert found.mean() == pytest.approx(target * SIDE**2, abs=4 * found.std() / TRIALS**0.5)
    assert row.snr_patch / row.kept**0.5 == pytest.approx(target * SIDE**2 / found.std(), rel=0.012)


def test_the_background_s_error_counts_on_what_all_subs_have_in_common():
    """A fixed pattern under subs without dither: no number of subs goes below the pattern of patch and background."""
    fixed = {("camera", "pattern"): {"fixed": "2 electron", "flat": 0.0}, ("goal", "snr"): 1.0}
    _, row = one_row({**fixed, ("target", "light"): [{"line": "H-alpha", "brightness": "20 R"}]})
    random = np.random.default_rng(9)
    patch = random.normal(0, 2, (TRIALS, SIDE**2)).sum(axis=1)
    around = random.normal(0, 2, (TRIALS, AROUND**2)).mean(axis=1) * SIDE**2
    assert row.snr_ceiling == pytest.approx(row.target_e_s * 100 * SIDE**2 / (patch - around).std(), rel=0.012)


@pytest.mark.parametrize("seeing", [4, 10])
def test_a_star_s_fit_collects_the_noise_of_its_whole_image(seeing):
    """Least squares with a Gaussian image over a flat background: its noise is that of 1 / sum(P^2) pixels."""
    alone = {("routine", "background_patch"): None, ("site", "seeing"): f"{seeing} arcsec"}
    case, row = one_row({**alone, ("target", "light"): [{"star": "19 mag"}]})
    fwhm_px = answer(case).filters[0].rates.fwhm_px
    sigma = fwhm_px / 2.3548
    x = np.arange(-40, 41)
    profile = np.exp(-(x**2) / (2 * sigma**2))
    image = np.outer(profile, profile) / profile.sum() ** 2
    behind = (row.sky_e_s + row.dark_e_s) * 100 + case.camera.setting.read_variance_e2
    star = row.target_e_s * 100
    random = np.random.default_rng(seeing)
    weights = image / (image**2).sum()
    counts = random.normal(0, (behind + star * image) ** 0.5, (3000, *image.shape))
    spread = np.einsum("nij,ij->n", counts, weights).std()
    assert star < 0.3 * behind / (image**2).sum(), "the background must decide"
    assert row.snr_patch / row.kept**0.5 == pytest.approx(star / spread, rel=0.08)
    area = 1 / (image**2).sum()
    assert row.noise_share["sky"] / row.noise_share["target"] == pytest.approx(
        area * row.sky_e_s / row.target_e_s, rel=0.02
    )
    assert row.noise_share["dark"] / row.noise_share["sky"] == pytest.approx(row.dark_e_s / row.sky_e_s, rel=1e-9)
