"""Texts with units: what people write is understood, what could mean two things is refused."""

import math
import re

import astropy.units as u
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from expocalc.base.quantity import parse_quantity, read_number, read_quantity


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("102 mm", "mm", 102),
        ("102mm", "mm", 102),
        ("  102   mm ", "mm", 102),
        ("10.2 cm", "mm", 102),
        ("10,2 cm", "mm", 102),
        (",5 mm", "mm", 0.5),
        ("5. mm", "mm", 5),
        ("+5 mm", "mm", 5),
        ("1e2 mm", "mm", 100),
        ("1E+2 mm", "mm", 100),
        ("2 min", "s", 120),
        ("2 minutes", "s", 120),
        ("3 secs", "s", 3),
        ("1 hour", "s", 3600),
        ("1.5 h", "s", 5400),
        ("1,4 e-", "electron", 1.4),
        ("1.4 e⁻", "electron", 1.4),
        ("3 electrons", "electron", 3),
        ("0.1 e-/s", "electron/s", 0.1),
        ("6 electron/min", "electron/s", 0.1),
        ("0.1 e- s-1", "electron/s", 0.1),
        ("0.1 electron s⁻¹", "electron/s", 0.1),
        ("-10 deg_C", "deg_C", -10),
        ("-10 °C", "deg_C", -10),
        ("-10 degC", "deg_C", -10),
        ("−10 Celsius", "deg_C", -10),
        ("-10 degrees C", "deg_C", -10),
        ("263.15 K", "deg_C", -10),
        ("6 K", "K", 6),
        ("6 deg_C", "K", 6),
        ("6 °C", "K", 6),
        ("51,2°", "deg", 51.2),
        ("51.2 degrees", "deg", 51.2),
        ("1 deg", "arcsec", 3600),
        ('2.8"', "arcsec", 2.8),
        ("2.8″", "arcsec", 2.8),
        ("1'", "arcsec", 60),
        ("1′", "arcsec", 60),
        ("3.8 µm", "um", 3.8),
        ("3.8 μm", "um", 3.8),
        ("3.8 um", "um", 3.8),
        ("6563 Angstrom", "nm", 656.3),
        ("10 px", "pixel", 10),
        ("10 pixels", "pixel", 10),
        ("12 Rayleigh", "R", 12),
        ("12 rayleighs", "R", 12),
        ("19.1 mag/arcsec2", "mag/arcsec2", 19.1),
        ("19.1 mag/arcsec^2", "mag/arcsec2", 19.1),
        ("19.1 mag/arcsec²", "mag/arcsec2", 19.1),
        ("19,1 mag arcsec-2", "mag/arcsec2", 19.1),
        ("2.5 mcd/m2", "cd/m2", 0.0025),
        ("2.5 mcd/m²", "cd/m2", 0.0025),
        ("4e-18 erg/s/cm2/arcsec2", "erg/(s cm2 arcsec2)", 4e-18),
        ("4e-18 erg/(s cm2 arcsec2)", "erg/(s cm2 arcsec2)", 4e-18),
        ("4e−18 erg s⁻¹ cm⁻² arcsec⁻²", "erg/(s cm2 arcsec2)", 4e-18),
        ("0.63 eV", "eV", 0.63),
        ("１０２ mm", "mm", 102),
        ("0.05 d", "s", 4320),
    ],
)
def test_what_people_write_is_understood(text, unit, expected):
    assert read_quantity("x", text, unit) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1,000 mm", "the comma could mark thousands or decimals"),
        ("10,000 mm", "thousands or decimals"),
        ("1 000 mm", "has the unit '000 mm', which is not known"),
        ("10² mm", "not known"),
        ("5 3 mm", "not known"),
        ("5 2mm", "not known"),
        ("5 mm/2", "not known"),
        ("5 10 mm", "not known"),
        ("5 mm mol kg", "convertible to mm"),
        ("5_000 mm", "not known"),
        ("0x10 mm", "not known"),
        ("5e mm", "not known"),
        ("5,, mm", "not known"),
        ("5 m,s", "not known"),
        ("5 m**(1/0)", "not known"),
        ("5 (((", "not known"),
        ("5 mm # x", "not known"),
        ("3 dex(mm)", "not known"),
        ("15 mag(AB)", "not known"),
        ("5 furlong", "not known"),
        ("5 m/s", "speed"),
        ("5 K", "(temperature)"),
        ("5", "needs a unit convertible to mm, got the bare number 5"),
        ("", "must be a number with its unit"),
        ("mm", "must be a number"),
        ("--5 mm", "must be a number"),
        ("+-5 mm", "must be a number"),
        ("five mm", "must be a number"),
        ("x" * 10_000, "must be a number"),
        ("9" * 10_000 + " mm", "must be a number"),
        ("1e400 mm", "must be a finite number, got inf mm"),
        ("nan mm", "must be a finite number, got nan mm"),
        ("-inf mm", "must be a finite number, got -inf mm"),
        ("infinity mm", "finite"),
        ("5 \x1b[31mmm", r"'\x1b[31mmm'"),
    ],
)
def test_what_could_mean_two_things_is_refused(text, words):
    with pytest.raises((TypeError, ValueError), match=re.escape(words)) as refusal:
        read_quantity("x", text, "mm", example='"102 mm"')
    said = str(refusal.value)
    assert said.startswith("x ")
    assert said.endswith('; write it like "102 mm"')
    assert said.isprintable()
    assert len(said) < 250


@pytest.mark.parametrize("value", [5, 5.0, np.float64(5), 10**400, math.nan, 5 * u.dimensionless_unscaled])
def test_bare_number_is_never_given_a_unit(value):
    with pytest.raises(TypeError, match="needs a unit convertible to mm, got the bare number"):
        read_quantity("x", value, "mm")


@pytest.mark.parametrize("value", [True, None, [], {}, b"5 mm", object, 5j])
def test_what_is_no_number_is_refused(value):
    with pytest.raises(TypeError, match="x must be a number"):
        read_quantity("x", value, "mm")
    with pytest.raises(TypeError, match="x must be a number"):
        read_number("x", value)


def test_quantities_are_read_as_texts_are():
    assert read_quantity("x", 2 * u.min, "s") == 120
    assert read_quantity("x", u.Quantity(263.15, "K"), "deg_C") == pytest.approx(-10)
    with pytest.raises(ValueError, match=r"single number, got shape \(2,\)"):
        read_quantity("x", [1, 2] * u.mm, "mm")
    with pytest.raises(u.UnitsError, match="must be convertible to s"):
        read_quantity("x", 5 * u.mm, "s")


def test_wrong_kind_of_unit_is_a_value_error_too():
    """In every version of astropy, so that one except clause catches all refusals."""
    with pytest.raises(ValueError, match="convertible"):
        read_quantity("x", "5 K", "mm")


@pytest.mark.parametrize(
    ("limits", "allowed", "refused", "rule"),
    [
        ({"minimum": 2}, "2 mm", "1.999 mm", "at least 2 mm"),
        ({"maximum": 2}, "2 mm", "2.001 mm", "at most 2 mm"),
        ({"above": 2}, "2.001 mm", "2 mm", "above 2 mm"),
        ({"below": 2}, "1.999 mm", "2 mm", "below 2 mm"),
        ({"above": 0}, "1e-9 mm", "-0 mm", "above 0 mm"),
        ({"minimum": 0}, "-0 mm", "-1e-9 mm", "at least 0 mm"),
        ({"minimum": 2}, "0.002 m", "0.001 m", "at least 2 mm, got 1 mm"),
        ({"maximum": 1e-3}, "1 um", "1.001 um", "at most 0.001 mm"),
    ],
)
def test_range_is_in_the_fields_unit_with_its_ends(limits, allowed, refused, rule):
    read_quantity("x", allowed, "mm", **limits)
    with pytest.raises(ValueError, match=f"x must be {rule}"):
        read_quantity("x", refused, "mm", **limits)


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (5, 5),
        (0.5, 0.5),
        ("0,5", 0.5),
        ("92 %", 0.92),
        ("92%", 0.92),
        ("-1e-3", -0.001),
        ("−1", -1),
        (5 * u.percent, 0.05),
        (2 * u.m / u.mm, 2000),
    ],
)
def test_numbers_without_a_unit(value, expected):
    assert read_number("x", value) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("5 mm", "without a unit, got '5 mm'"),
        ("corner", "x must be a number, got 'corner'"),
        (5 * u.mm, "without a unit"),
        ("1,000", "thousands"),
        ("5 3", "not known"),
        (10**400, "finite number, got inf"),
        (-(10**400), "got -inf"),
        (math.nan, "got nan"),
        ("1e999", "got inf"),
    ],
)
def test_numbers_that_are_refused(value, words):
    with pytest.raises(ValueError, match=re.escape(words)):
        read_number("x", value)


def test_parts_of_a_text():
    assert parse_quantity("x", "0,11 e-/s") == (0.11, u.electron / u.s)
    assert parse_quantity("x", "5") == (5.0, None)


def test_end_of_a_range_is_allowed_in_every_unit():
    assert read_quantity("x", "1 mm", "um", maximum=1000) == 1000
    assert read_quantity("x", "333.15 K", "deg_C", maximum=60) == 60


# --- whatever is typed ---

SIGNS = "0123456789.,+-−eE/*^()[]{}'\" mnkKRsCd°²⁻%µ_:;#=|\\\n\x1b\u202e½٣"


@given(st.text(SIGNS, max_size=90) | st.text(max_size=100))
def test_whatever_is_typed_gives_a_finite_number_or_a_sentence(text):
    said = "x "
    try:
        assert math.isfinite(read_quantity("x", text, "mm", minimum=-1e9, maximum=1e9))
    except (TypeError, ValueError) as error:
        said = str(error)
    assert said.startswith("x ")
    assert len(said) < 600


@given(st.floats(-1e9, 1e9), st.sampled_from(["mm", "s", "electron/s", "mag/arcsec2", "erg/(s cm2 arcsec2)", "deg_C"]))
def test_number_that_is_written_is_the_number_that_is_read(number, unit):
    assert read_quantity("x", f"{number!r} {unit}", unit) == number
    assert read_number("x", repr(number)) == number


@given(st.floats(1e-3, 9e5), st.integers(0, 6))
def test_decimal_comma_is_a_decimal_point_or_refused(number, digits):
    point = f"{number:.{digits}f}"
    comma = point.replace(".", ",")
    if digits == 3 and 1 <= float(point) < 1000:
        with pytest.raises(ValueError, match="thousands"):
            read_quantity("x", f"{comma} mm", "mm")
    else:
        assert read_quantity("x", f"{comma} mm", "mm") == float(point)
