"""The bench beside the reference implementation of EMVA 1288, release 4.0: its camera draws, both measure.

emva1288 1.0.2 (Ariza, F. and others, LGPL) is that implementation; its camera is another than ours, with normal numbers
and steps of its own. It still asks numpy for `asfarray`, which numpy 2 dropped: the one name is lent to it here.
"""

import logging
import math
from types import SimpleNamespace

import numpy as np
import pytest
from astropy.io import fits
from emva1288.camera.camera import Camera
from emva1288.camera.routines import Qe
from emva1288.process.data import Data1288
from emva1288.process.results import Results1288
from emva1288.process.routines import get_int_imgs

from expocalc.frames.tell.camera import bench

SHAPE = (240, 320)
STEPS, ALIKE = 30, 16
EXPOSURE_NS = 1e9
CAMERAS = {
    "half a count an electron": {"K": 0.5, "bit_depth": 12, "u_esat": 6500.0, "sigma2_dark_0": 36.0},
    "four counts an electron": {"K": 4.0, "bit_depth": 14, "u_esat": 3600.0, "sigma2_dark_0": 4.0},
    "four electrons a count": {"K": 0.25, "bit_depth": 12, "u_esat": 14500.0, "sigma2_dark_0": 100.0},
}


def camera_of(K, seed=3, **fields):  # noqa: N803 - the library's name
    rng = np.random.default_rng(seed + 1)  # not the numbers that the camera itself draws
    return Camera(
        width=SHAPE[1], height=SHAPE[0], K=K, K_min=K, K_max=K, K_steps=1,
        blackoffset=100, blackoffset_min=100, blackoffset_max=100, blackoffset_steps=1,
        dark_signal_0=0.0, dark_current_ref=0.0, exposure=EXPOSURE_NS, seed=seed,
        dsnu=80 + rng.normal(0, 4, SHAPE), prnu=1 + rng.normal(0, 0.012, SHAPE),
        qe=Qe(np.full((*SHAPE, 1), 0.5), np.array([550.0]), SHAPE[1], SHAPE[0]), **fields,
    )  # fmt: skip


@pytest.fixture(scope="module", params=list(CAMERAS))
def both(request, tmp_path_factory):
    """Their results, and ours from the same images as FITS files."""
    camera = camera_of(**CAMERAS[request.param])
    folder = tmp_path_factory.mktemp("emva")
    full = 1.1 * camera.K * CAMERAS[request.param]["u_esat"]
    levels = [0.0, *np.linspace(full / STEPS, full, STEPS)]
    data = {"width": SHAPE[1], "height": SHAPE[0], "temporal": {EXPOSURE_NS: {}}, "spatial": {EXPOSURE_NS: {}}}
    paths = []
    for at, level in enumerate(levels):
        light = camera.get_radiance_for(mean=level) if level else 0.0
        images = [camera.grab(light) for _ in range(2)]
        sums = get_int_imgs(images)
        photons = float(np.mean(camera.get_photons(light))) if level else 0.0
        data["temporal"][EXPOSURE_NS][photons] = {
            "sum": sums["sum"].sum(), "pvar": sums["pvar"].sum(), "dmean": sums["dmean"],
        }  # fmt: skip
        if at in (0, STEPS // 2):
            data["spatial"][EXPOSURE_NS][photons] = get_int_imgs([camera.grab(light) for _ in range(ALIKE)])
        paths.append([folder / f"{at}_{twin}.fits" for twin in (1, 2)])
        for path, image in zip(paths[-1], images, strict=True):
            # as long as its light is strong, under a steady lamp: what linearity is told by
            fits.PrimaryHDU(image, fits.Header({"EXPTIME": level})).writeto(path)
    with pytest.MonkeyPatch.context() as lent:
        lent.setattr(np, "asfarray", lambda x: np.asarray(x, dtype=float), raising=False)
        found = Results1288(Data1288(data, loglevel=logging.ERROR).data, loglevel=logging.ERROR)
        theirs = SimpleNamespace(
            K=found.K, dark=found.sigma_d, dsnu=found.DSNU1288, prnu=found.PRNU1288 / 100, full=found.u_e_sat,
            linear=found.linearity()["relative_deviation"][found.index_linearity_min : found.index_linearity_max + 1],
        )  # fmt: skip
    ours = bench(paths[0], paths[1:], given={})
    return camera, theirs, ours


def test_gain(both):
    # two fits to the same points, theirs unweighted: within 1 %; the truth within three of our own errors
    camera, theirs, ours = both
    gain = ours.values["electrons_per_adu"]
    assert 1 / gain.value == pytest.approx(theirs.K, rel=0.01)
    assert abs(gain.value - 1 / camera.K) < 3 * (gain.high - gain.value)


def test_dark_noise(both):
    # theirs takes off the steps of the converter as the standard does; the same pair of frames: within 1 %
    _, theirs, ours = both
    assert ours.values["read_noise_without_steps_electron"].value == pytest.approx(theirs.dark, rel=0.015)


def test_uneven_bias_and_response(both):
    # theirs from the mean of sixteen frames, ours from a pair within squares: of other chance, 4 and 1.2 % put in
    _, theirs, ours = both
    assert ours.values["dsnu_electron"].value == pytest.approx(theirs.dsnu, rel=0.05)
    assert ours.values["prnu"].value == pytest.approx(theirs.prnu, rel=0.05)


def test_saturation(both):
    # theirs is the level at which the noise is largest, ours the one at which all pixels are full: with levels a
    # thirtieth apart the second lies up to two of them above the first
    _, theirs, ours = both
    full = ours.values["full_well_electron"]
    assert theirs.full <= full.high
    assert full.low <= theirs.full * (1 + 2 / STEPS)


def test_linearity(both):
    # the mean of their deviations over the same range; a camera of theirs is straight but for chance
    _, theirs, ours = both
    error = ours.values["linearity_error"].value
    assert error == pytest.approx(np.abs(theirs.linear).mean() / 100, abs=2e-3)
    assert error < 5e-3


def test_steps_are_not_counted_as_noise_of_the_electronics():
    # the difference between both read noises is a twelfth of a step squared
    camera = camera_of(**CAMERAS["four electrons a count"])
    frames = [camera.grab(0.0).astype(float) for _ in range(2)]
    spread = np.std(frames[0] - frames[1]) / math.sqrt(2)
    assert math.sqrt(spread**2 - 1 / 12) / 0.25 == pytest.approx(10.0, rel=0.02)
