"""The shipped tables: readable by astropy, named after their source, equal to it."""

import importlib
from pathlib import Path

import numpy as np
import pytest
from astropy.table import Table

from expocalc.base.curve import Curve, integrate
from expocalc.base.photometry import standard_band, vega_spectrum
from expocalc.base.table import DATA, read_table
from expocalc.light.lamps import LAMPS

FILES = sorted(DATA.glob("*.ecsv"))
packages = pytest.mark.filterwarnings("ignore")  # theirs to mend


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_astropy_reads_the_same_numbers(path):
    theirs = Table.read(path, format="ascii.ecsv")
    if any(column.dtype.kind not in "fi" for column in theirs.itercols()):
        with pytest.raises(ValueError, match=r"must hold numbers|as many numbers"):  # texts are not for this reader
            read_table(path)
        return
    ours = read_table(path)
    assert theirs.colnames == list(ours)
    for name in theirs.colnames:
        np.testing.assert_array_equal(ours[name], np.asarray(theirs[name]))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_header_names_its_source(path):
    meta = Table.read(path, format="ascii.ecsv").meta
    for key in ("title", "author", "year", "licence", "date"):
        assert str(meta.get(key, "")).strip(), key
    # a table that no package holds is our own, and says so
    assert "package" in meta or "project" in meta["licence"]


def test_all_tables_together_stay_small():
    assert sum(path.stat().st_size for path in FILES) < 600_000


@packages
@pytest.mark.parametrize("ours", [f"bessell-{b}" for b in "UBVRI"] + [f"sdss-{b}" for b in "ugriz"])
def test_passbands_of_speclite(ours):
    speclite = importlib.import_module("speclite")
    name = ours.replace("sdss-", "sdss2010-")
    theirs = Table.read(Path(speclite.__file__).parent / f"data/filters/{name}.ecsv", format="ascii.ecsv")
    table = read_table(DATA / f"band_{ours}.ecsv")
    np.testing.assert_allclose(table["wavelength"], np.asarray(theirs["wavelength"]) / 10, rtol=1e-12)
    np.testing.assert_array_equal(table["response"], np.asarray(theirs["response"]))


@packages
def test_the_eye_of_colour_science():
    with np.printoptions():  # the import changes how numpy prints, which must not reach the doctests
        colour = importlib.import_module("colour")
    theirs = colour.colorimetry.SDS_LEFS["CIE 1924 Photopic Standard Observer"]
    table = read_table(DATA / "band_cie-V.ecsv")
    np.testing.assert_array_equal(table["wavelength"], theirs.wavelengths)
    np.testing.assert_allclose(table["response"] * table["wavelength"], theirs.values, rtol=1e-9)


@packages
def test_sun_and_ozone_of_pvlib():
    spectrum = importlib.import_module("pvlib.spectrum")
    theirs = spectrum.get_reference_spectra()["extraterrestrial"].loc[300:1100]
    sun = read_table(DATA / "sun.ecsv")
    np.testing.assert_array_equal(sun["wavelength"], theirs.index)
    np.testing.assert_allclose(sun["irradiance"], theirs.values, rtol=1e-9)
    coefficients = importlib.import_module("pvlib.spectrum.spectrl2")._SPECTRL2_COEFFS
    seen = (coefficients["wavelength"] >= 300) & (coefficients["wavelength"] <= 1100)
    ozone = read_table(DATA / "ozone.ecsv")
    np.testing.assert_array_equal(ozone["wavelength"], coefficients["wavelength"][seen])
    np.testing.assert_array_equal(ozone["absorption"], coefficients["ozone_absorption"][seen])


@packages
@pytest.mark.parametrize("band", [f"bessell-{b}" for b in "BVRI"] + ["sdss-g", "sdss-r", "cie-V"])
def test_thinned_vega_keeps_its_integrals(band):
    sedpy = importlib.import_module("sedpy")
    from astropy.io import fits

    with fits.open(Path(sedpy.__path__[0]) / "data/alpha_lyr_stis_011.fits") as hdus:
        nm = np.asarray(hdus[1].data["WAVELENGTH"], float) / 10
        flux = np.asarray(hdus[1].data["FLUX"], float)
    seen = (nm > 299) & (nm < 1101)
    photons = flux * nm * 100 / (6.62607015e-27 * 2.99792458e18)
    response = standard_band(band)
    whole = integrate(Curve(nm[seen], photons[seen]), response)
    assert integrate(vega_spectrum(), response) == pytest.approx(whole, rel=1e-4)


LAMP_SOURCES = {
    "led-2700K": "LED-B1",
    "led-3000K": "LED-B2",
    "led-4000K": "LED-B3",
    "led-5000K": "LED-B4",
    "led-6600K": "LED-B5",
    "sodium-high-pressure": "HP1",
    "metal-halide": "HP4",
    "sodium-low-pressure": "LPS",
    "mercury": "Mercury",
}


@packages
@pytest.mark.parametrize("name", LAMPS)
def test_lamps_of_colour_science(name):
    # Continuum times 5 nm plus lines gives back the whole light, and bins without a line are untouched.
    with np.printoptions():  # the import changes how numpy prints, which must not reach the doctests
        colour = importlib.import_module("colour")
    key = LAMP_SOURCES[name]
    source = colour.SDS_ILLUMINANTS if key in colour.SDS_ILLUMINANTS else colour.SDS_LIGHT_SOURCES
    theirs = source[key].values / source[key].values.max()
    table, lines = read_table(DATA / "lamps.ecsv"), read_table(DATA / "lamp_lines.ecsv")
    nm, power = lines["wavelength"], lines.get(name, np.zeros(len(lines["wavelength"])))
    np.testing.assert_array_equal(table["wavelength"], source[key].wavelengths)
    assert table[name].sum() * 5 + power.sum() == pytest.approx(theirs.sum() * 5, rel=1e-4)
    far = np.array([np.all(np.abs(nm[power > 0] - x) > 6) for x in table["wavelength"]])
    np.testing.assert_allclose(table[name][far], theirs[far], rtol=1e-4)
    assert np.all(table[name] <= theirs * (1 + 1e-4))
