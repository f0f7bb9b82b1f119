"""Bad input: one clear sentence, exit code 2, nothing on the way to the answer's place, the file untouched.

The cases of the fields are made by walking the nouns of a plan that holds every field, so that a new field without
cases of its own fails `test_every_field_has_its_cases`.
"""

import ast
import contextlib
import copy
import dataclasses
import datetime
import itertools
import math
import os
import re
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
import tomlkit

from expocalc.__main__ import main
from expocalc.base import textfile
from expocalc.base.field import MISSING, fields_of
from expocalc.base.noun import Noun
from expocalc.plan import Plan, PlanError

ESCAPE = "\x1b[31m"
DAY = datetime.date(2026, 11, 24)

WHOLE = {
    "title": "A plan that holds every field",
    "site": {
        "latitude": "51.2 deg",
        "longitude": "3.1 deg",
        "elevation": "12 m",
        "time_zone": "Europe/Brussels",
        "horizon": [[0, 25], [180, 10]],
        "seeing": "2.8 arcsec",
    },
    "sky": {
        "zenith_brightness": "19.1 mag/arcsec2",
        "reading_band": "meter",
        "brightness_error": "0.15 mag/arcsec2",
        "lamps": {"led-4000K": 0.6, "sodium-high-pressure": 0.4},
        "gradient": {"at_45deg": "0.4 mag", "toward_azimuth": "250 deg"},
        "extinction": "town",
        "measured": {"H-alpha": "0.1 electron/s"},
    },
    "telescope": {
        "aperture": "102 mm",
        "focal_length": "510 mm",
        "obstruction": "30 mm",
        "throughput": 0.92,
        "reducer": 0.8,
        "blur": "1.5 arcsec",
    },
    "camera": {
        "pixel": "3.8 um",
        "columns": 6200,
        "rows": 4150,
        "mosaic": "none",
        "mosaic_curves": "typical",
        "quantum_efficiency": "back-lit mono",
        "gain": "high",
        "temperature": "-10 deg_C",
        "dark_current": {"rate": "0.002 electron/s", "at": "-10 deg_C", "doubles_every": "6 K"},
        "glow": "0 electron/s",
        "pattern": {"fixed": "0.5 electron", "flat": 0.001},
        "gains": {
            "high": {
                "read_noise": "1.4 electron",
                "electrons_per_adu": 0.25,
                "native_step": 1,
                "bias_level": 500,
                "full_well": "15000 electron",
                "bits": 16,
                "read_noise_kind": "bias",
            }
        },
    },
    "filters": [
        {
            "name": "H-alpha",
            "wanted": ["H-alpha"],
            "blocking": 4,
            "passbands": [
                {
                    "centre": "656.3 nm",
                    "width": "5 nm",
                    "peak": 0.88,
                    "shape": "cavities",
                    "index": 2.0,
                    "designed_for": "f/5",
                }
            ],
        },
        {"name": "V", "passbands": [{"standard": "bessell-V"}]},
        {"name": "table", "passbands": [{"table": [[500, 0.9], [520, 0.8]]}]},
    ],
    "target": {
        "name": "shell",
        "right_ascension": "20h 45m 38s",
        "declination": "+30d 43m",
        "altitude": "60 deg",
        "patch": "15 arcsec",
        "stars_removed_to": "16 mag",
        "star_crowding": 1.5,
        "light": [
            {"line": "H-alpha", "brightness": "12 R", "companions": {"N II": 0.3}, "snr": 8, "patch": "20 arcsec"},
            {
                "continuum": "25.2 mag/arcsec2",
                "system": "Vega",
                "band": "bessell-V",
                "shape": "sun",
                "snr": 5,
                "patch": "60 arcsec",
            },
            {"star": "15 mag", "system": "Vega", "band": "bessell-V", "snr": 20},
        ],
    },
    "routine": {
        "sub_length": "180 s",
        "longest_sub": "300 s",
        "guiding": "0.8 arcsec",
        "polar_error": "5 arcmin",
        "guide_star": "20 arcmin",
        "flexure": "4 arcsec/h",
        "stretch": 0.1,
        "dead_time": "2 s",
        "dither_every": 2,
        "dither_time": "18 s",
        "dither_size": "10 pixel",
        "lost_per_dither": 0.04,
        "lost_per_hour": 0.2,
        "stacking": "clipped mean",
        "clip": 3.0,
        "darks": 30,
        "flats": 30,
        "flat_level": 0.4,
        "biases": 50,
        "background_flatness": 0.002,
        "background_patch": "60 arcsec",
        "counts": [{"sub_length": "300 s", "dither_every": 2, "taken": 120, "spoiled": 7}],
    },
    "night": {
        "date": "2026-10-24",
        "sun_limit": "-15 deg",
        "earliest": "20:30",
        "latest": "04:00",
        "clear_share": 0.4,
        "focus_every": "90 min",
        "focus_time": "3 min",
        "refocus_after": "1.5 K",
        "flip_time": "5 min",
        "filter_change_time": "4 min",
        "battery": "500 W h",
        "power": "40 W",
        "storage": "64 Gbyte",
    },
    "measured_under": {
        "altitude": "50 deg",
        "moon": {"illuminated": 0.5, "altitude": "35 deg", "separation": "70 deg"},
    },
    "moon": {"illuminated": 0.5, "altitude": "35 deg", "separation": "70 deg"},
    "goal": {"snr": 10, "noise_growth": 0.05, "unsaturated_star": "9 mag", "sky_share_of_well": 0.2},
    "doubt": {
        "lamp_mix": 2.0,
        "lamp_colour": 0.8,
        "natural_sky": 1.35,
        "target": 1.25,
        "efficiency": "10 %",
        "extinction": 1.25,
        "dark_current": 5,
        "read_noise": 1.1,
        "seeing": 1.2,
        "filter_centre": "0.3 nm",
        "measured_sky": 1.05,
    },
}


def quantity(unit, *out_of_range):
    """A field with a unit: what may never be in it, and what is out of its range."""
    return [
        (5, "bare number 5"),
        (5.5, "bare number 5.5"),
        ("5", "bare number 5"),
        ("5 mol", "convertible to"),
        ("5 flurbs", "not known"),
        (f"5 5 {unit}", "not known"),
        (f"mm {unit}", "number with its unit"),
        (f"nan {unit}", "finite"),
        (f"inf {unit}", "finite"),
        (f"-inf {unit}", "finite"),
        (f"1e400 {unit}", "finite"),
        (f"1,000 {unit}", "thousands or decimals"),
        ("", "number with its unit"),
        (math.nan, "bare number nan"),
        (math.inf, "bare number inf"),
        ([], "with its unit"),
        ({}, "with its unit"),
        (True, "with its unit"),
        (DAY, "with its unit"),
        (ESCAPE, "with its unit"),
        *((f"{value} {unit}", words) for value, words in out_of_range),
    ]


def number(*out_of_range):
    return [
        ("5 mm", "without a unit"),
        ("five", "must be a number"),
        ("", "must be a number"),
        (math.nan, "finite"),
        (math.inf, "finite"),
        (-math.inf, "finite"),
        (2**63 - 1, "must be"),
        (True, "must be a number"),
        (DAY, "must be a number"),
        ([], "must be a number"),
        ({}, "must be a number"),
        ("1,000", "thousands"),
        (ESCAPE, "must be a number"),
        *out_of_range,
    ]


def whole(*out_of_range):
    return [*number(*out_of_range), (8.5, "whole number")]


NO_DATE = [
    (value, "must be a date")
    for value in (math.nan, True, "", "two\nlines", ESCAPE, "x" * 300, "tomorrow", "2026-13-01", 5, [], {}, [5])
]
TEXT = [
    (5, "in quotes"),
    (math.nan, "in quotes"),
    (True, "in quotes"),
    (DAY, "in quotes"),
    ([], "in quotes"),
    ({}, "in quotes"),
    ("", "printable"),
    ("  ", "printable"),
    ("two\nlines", "printable"),
    (ESCAPE, "printable"),
    ("\u202eevil", "printable"),
    ("\0", "printable"),
    ("x" * 201, "printable"),
]


def choice(near, meant):
    return [
        (near, f'did you mean "{meant}"'),
        ("flurbs", "must be one of"),
        (5, "must be one of"),
        (math.nan, "must be one of"),
        (True, "must be one of"),
        (DAY, "must be one of"),
        ([], "must be one of"),
        ({}, "must be one of"),
        ("", "must be one of"),
        (ESCAPE, "must be one of"),
    ]


def other(*cases):
    """A field of a kind of its own; the cases beside these."""
    return [(value, "") for value in (math.nan, True, DAY, ESCAPE, "flurbs", [5])] + list(cases)


SHARES = other(
    (1.1, "at most 1"),
    (0, "above 0"),
    (-0.1, "above 0"),
    (math.inf, "finite"),
    ([[400, 0.5]], "two or more"),
    ([[400, 0.5], [300, 0.5]], "must increase"),
    ([[400, 0.5], [500, 1.1]], "between 0 and 1"),
    ([[400, -0.5], [500, 1]], "between 0 and 1"),
    ([[400, math.nan], [500, 1]], "finite"),
    ([[100, 0.5], [200, 0.5]], "300 to 1100 nm"),
    ([[400, 0], [500, 0]], "some light"),
    ([[400], [500]], "pairs"),
)
NEGATIVE = ("-1", "at least 0")
NEGATIVE_OR_ZERO = [("-1", "above 0"), ("0", "above 0"), ("-0", "above 0")]
AB_SYSTEM = choice("vega", "Vega")
BAND = choice("bessel-V", "bessell-V")

FIELDS = {
    "Case.title": TEXT,
    "Case.filters": [(value, "one table or more") for value in ([], {}, 5, "x", True)] + [([5], "must be a table")],
    **{
        f"Case.{section}": [(value, "must be a table") for value in (5, "x", [], True, math.nan)]
        for section in ("site", "sky", "telescope", "camera", "target", "routine", "goal", "doubt", "moon", "night")
    },
    "Site.latitude": quantity("deg", ("91", "at most 90"), ("-91", "at least -90")),
    "Site.longitude": quantity("deg", ("361", "at most 360"), ("-181", "at least -180")),
    "Site.elevation": quantity("m", ("9001", "at most 9000"), ("-501", "at least -500")),
    "Site.time_zone": other(("Europe/Brusels", "IANA"), ("../zone", "IANA"), ("", "IANA"), ("Europe", "IANA")),
    "Site.horizon": other(
        ("-1 deg", "at least 0"),
        ("90 deg", "below 90"),
        ([], "increasing"),
        ([[10, 5], [10, 5]], "increasing"),
        ([[0, 91]], "below 90"),
        ([[0]], "pairs"),
        ([[math.nan, 5]], "finite"),
        (5, "bare number"),
        ("5 m", "to deg"),
    ),
    "Site.seeing": quantity("arcsec", *NEGATIVE_OR_ZERO, ("31", "at most 30")),
    "Sky.zenith_brightness": quantity(
        "mag/arcsec2", ("9", "at least 10"), ("26", "at most 25"), ("22.9", "darkest"), ("-1", "at least")
    ),
    "Sky.bortle": whole((0, "at least 1"), (10, "at most 9"), (-1, "at least 1"), (5, "exactly one")),
    "Sky.luminance": quantity("cd/m2", *NEGATIVE_OR_ZERO),
    "Sky.naked_eye_limit": number((8, "at most 7.9"), (-6, "at least -5"), (5, "exactly one")),
    "Sky.reading_band": choice("bessel-V", "bessell-V"),
    "Sky.brightness_error": quantity("mag/arcsec2", NEGATIVE, ("6", "at most 5")),
    "Sky.lamps": other(
        ({}, "shares of luminance"),
        ({"led-4000": 1}, 'did you mean "led-4000K"'),
        ({"mercury": 0.9}, "sum to 1"),
        ("from rate", 'or "from rates"'),
        ({"mercury": 1.1}, "at most 1"),
        ({"mercury": -1, "led-4000K": 1}, "at least 0"),
        ({"mercury": math.nan}, "finite"),
    ),
    "Sky.gradient": other(
        ("4 mag", "at most 3"),
        ("-1 mag", "at least 0"),
        (0.4, "bare number"),
        ({}, 'needs the key "at_45deg"'),
        ({"at_45deg": "0.4 mag", "toward": "250 deg"}, 'no key "toward"'),
    ),
    "Gradient.at_45deg": quantity("mag", NEGATIVE, ("4", "at most 3")),
    "Gradient.toward_azimuth": quantity("deg", NEGATIVE, ("361", "at most 360")),
    "Sky.extinction": other(
        ("twn", 'did you mean "town"'),
        (-1, "at least 0"),
        (11, "at most 10"),
        ([[400, 0.1]], "two or more"),
        ([[500, 0.1], [400, 0.1]], "increasing"),
        ([[400, -1], [500, 1]], "at least 0"),
        (math.inf, "finite"),
    ),
    "Sky.measured": other(
        ({"H-alfa": "0.1 electron/s"}, 'did you mean "H-alpha"'),
        ({"V": "-1 electron/s"}, "at least 0"),
        ({"V": "31 mag/arcsec2"}, "at most 30"),
        ({"V": 5}, "bare number"),
        ({"V": "5 mol"}, "convertible to electron/s"),
        ({"V": "nan electron/s"}, "finite"),
        ({"V": {}}, "nothing"),
        ({"V": {"X": "1 electron/s"}}, "R, G and B"),
        ({"V": True}, ""),
        ({f"{ESCAPE}": "1 electron/s"}, "no filter"),
    ),
    "Telescope.aperture": quantity("mm", *NEGATIVE_OR_ZERO, ("1e6", "at most"), ("5000", "focal_length"), ("29", "")),
    "Telescope.focal_length": quantity("mm", *NEGATIVE_OR_ZERO, ("50", "0.5 to 1000 times"), ("5e5", "0.5 to 1000")),
    "Telescope.obstruction": quantity("mm", NEGATIVE, ("102", "smaller than the aperture"), ("103", "smaller than")),
    "Telescope.throughput": SHARES,
    "Telescope.reducer": number((0, "at least 0.1"), (-1, "at least 0.1"), (11, "at most 10")),
    "Telescope.tube": choice("aluminum", "aluminium"),
    "Telescope.blur": quantity("arcsec", NEGATIVE, ("61", "at most 60")),
    "Camera.pixel": quantity("um", ("-1", "at least"), ("0", "at least"), ("1e4", "at most")),
    "Camera.columns": whole((0, "at least 1"), (-1, "at least 1"), (10**7, "at most")),
    "Camera.rows": whole((0, "at least 1"), (-1, "at least 1"), (10**7, "at most")),
    "Camera.mosaic": choice("RGB", "RGGB"),
    "Camera.mosaic_curves": other(({}, "R, G and B"), ({"R": 0.5, "G": 0.5}, "R, G and B"), (0.5, "R, G and B")),
    "Camera.quantum_efficiency": [*SHARES, ("back-lit mon", 'did you mean "back-lit mono"')],
    "Camera.gain": [*TEXT, ("hihg", 'did you mean "high"')],
    "Camera.temperature": quantity("deg_C", ("-274", "at least -150"), ("61", "at most 60")),
    "Camera.dark_current": other(
        ({}, "rate"), (0.002, "table of keys and values"), ("0.002 electron/s", "table of keys and values")
    ),
    "Camera.glow": quantity("electron/s", NEGATIVE, ("1e6", "at most")),
    "Camera.pattern": other((0.5, "table of keys and values"), ("0.5 electron", "table of keys and values")),
    "Camera.gains": other(
        ({}, "named settings"), ({"high": 5}, "table of keys and values"), ({"high": {}}, "read_noise")
    ),
    "DarkCurrent.rate": quantity("electron/s", NEGATIVE, ("1e6", "at most")),
    "DarkCurrent.at": quantity("deg_C", ("-274", "at least -150"), ("61", "at most 60")),
    "DarkCurrent.doubles_every": quantity("K", ("-1", "at least"), ("0", "at least"), ("31", "at most 30")),
    "DarkCurrent.activation": quantity("eV", ("-1", "at least"), ("0", "at least"), ("3", "at most 2"), ("1", "both")),
    "Pattern.fixed": quantity("electron", NEGATIVE, ("1e4", "at most")),
    "Pattern.flat": number((-0.1, "at least 0"), (1, "below 1")),
    "GainSetting.read_noise": quantity("electron", NEGATIVE, ("1001", "at most 1000")),
    "GainSetting.electrons_per_adu": number((0, "above 0"), (-1, "above 0"), (1001, "at most")),
    "GainSetting.native_step": whole((0, "at least 1"), (-1, "at least 1"), (65537, "at most")),
    "GainSetting.bias_level": number((-1, "at least 0"), (65535, "below 65535 ADU")),
    "GainSetting.full_well": quantity("electron", *NEGATIVE_OR_ZERO, ("1e9", "at most")),
    "GainSetting.bits": whole((7, "at least 8"), (33, "at most 32"), (-1, "at least 8"), (0, "at least 8")),
    "GainSetting.read_noise_kind": choice("emv", "emva"),
    "Filter.name": TEXT,
    "Filter.passbands": [(value, "passbands") for value in ([], {}, 5, "x", True)] + [([5], "must be a table")],
    "Filter.wanted": [(value, "wanted must be a list") for value in ([], {}, 5, "H-alpha", True)]
    + [
        (["H-alfa"], 'did you mean "H-alpha"?'),
        (["S II"], "the target does not have"),
        (["H-alpha", "H-alpha"], "more than once"),
        ([5], "wanted must be a text"),
    ],
    "Filter.blocking": number((0.5, "at least 1"), (9, "at most 8"), (-1, "at least 1"), (0, "at least 1")),
    "Passband.centre": quantity("nm", ("299", "at least 300"), ("1101", "at most 1100"), ("301", "within 300 to 1100")),
    "Passband.width": quantity("nm", ("-1", "at least"), ("0", "at least"), ("801", "at most"), ("790", "within 300")),
    "Passband.peak": number((0, "above 0"), (-0.1, "above 0"), (1.1, "at most 1")),
    "Passband.shape": choice("gausian", "gaussian"),
    "Passband.table": other(("missing.ecsv", "can't be read"), ([[400, 0.5], [500, 0.5]], "exactly one"), ({}, "")),
    "Passband.standard": [*choice("bessel-V", "bessell-V"), ("bessell-V", "exactly one")],
    "Passband.index": number((1.1, "at least 1.2"), (5, "at most 4"), (-1, "at least 1.2"), (0, "at least 1.2")),
    "Passband.designed_for": other(
        ("f/0.4", "at least 0.5"), ("f/0", "at least 0.5"), ("f/1001", "at most 1000"), ("f5", "focal ratio")
    ),
    "Target.name": TEXT,
    "Target.right_ascension": other(("24h 00m 01s", "0 to 360"), ("20h 60m", "below 60"), ("361 deg", "at most 360")),
    "Target.declination": other(("+91d 00m", "-90 to 90"), ("-91 deg", "at least -90"), ("30d 43m 60s", "below 60")),
    "Target.altitude": quantity("deg", *NEGATIVE_OR_ZERO, ("91", "at most 90")),
    "Target.patch": quantity("arcsec", *NEGATIVE_OR_ZERO, ("1e5", "at most")),
    "Target.stars_removed_to": quantity("mag", ("4", "at least 5"), ("31", "at most 30")),
    "Target.star_crowding": number((-1, "at least 0"), (1001, "at most 1000")),
    "Target.light": other(([], "at least one"), (5, "must be a list"), ({}, "exactly one"), ([{}], "exactly one")),
    "LineLight.line": choice("H-alfa", "H-alpha"),
    "LineLight.brightness": quantity("R", NEGATIVE),
    "LineLight.companions": other(
        ({"NII": 0.3}, 'did you mean "N II"'),
        ({"N II": -1}, "at least 0"),
        ({"H-alpha": 0.3}, "other lines"),
        ({"N II": math.inf}, "finite"),
        ({"N II": "0.3 R"}, "without a unit"),
    ),
    **{
        f"{kind}Light.snr": number((0, "above 0"), (-1, "above 0"), (1e7, "at most"))
        for kind in ("Line", "Continuum", "Star")
    },
    **{
        f"{kind}Light.patch": quantity("arcsec", *NEGATIVE_OR_ZERO, ("4e5", "at most"))
        for kind in ("Line", "Continuum")
    },
    "ContinuumLight.continuum": quantity("mag/arcsec2", ("-1", "at least 0"), ("41", "at most 40")),
    "ContinuumLight.system": AB_SYSTEM,
    "ContinuumLight.band": BAND,
    "ContinuumLight.shape": choice("sunn", "sun"),
    "StarLight.star": quantity("mag", ("-6", "at least -5"), ("41", "at most 40")),
    "StarLight.system": AB_SYSTEM,
    "StarLight.band": BAND,
    "Routine.sub_length": quantity("s", *NEGATIVE_OR_ZERO, ("86401", "at most 86400")),
    "Routine.longest_sub": quantity("s", *NEGATIVE_OR_ZERO, ("86401", "at most 86400")),
    "Routine.guiding": quantity("arcsec", NEGATIVE, ("61", "at most 60")),
    "Routine.dead_time": quantity("s", NEGATIVE, ("3601", "at most 3600")),
    "Routine.dither_every": whole((0, "at least 1"), (-1, "at least 1"), (10_001, "at most")),
    "Routine.polar_error": quantity("arcmin", *NEGATIVE_OR_ZERO, ("601", "at most 600")),
    "Routine.guide_star": quantity("arcmin", NEGATIVE, ("1e5", "at most")),
    "Routine.flexure": quantity("arcsec/h", *NEGATIVE_OR_ZERO, ("36001", "at most 36000")),
    "Routine.stretch": number((0, "above 0"), (-0.1, "above 0"), (1.1, "at most 1")),
    "Routine.dither_time": quantity("s", NEGATIVE, ("3601", "at most 3600")),
    "Routine.dither_size": quantity("pixel", NEGATIVE, ("2001", "at most 2000")),
    "Routine.lost_per_dither": number((-0.1, "at least 0"), (1, "below 1")),
    "Routine.lost_per_hour": number((-0.1, "at least 0"), (1001, "at most 1000")),
    "Routine.stacking": choice("clipped meen", "clipped mean"),
    "Routine.clip": number((1, "at least 1.5"), (11, "at most 10"), (-1, "at least"), (0, "at least")),
    "Routine.darks": whole((0, "at least 1"), (-1, "at least 1"), (100_001, "at most")),
    "Routine.flats": whole((0, "at least 1"), (-1, "at least 1"), (100_001, "at most")),
    "Routine.flat_level": number((0, "above 0"), (-1, "above 0"), (1.1, "at most 1")),
    "Routine.biases": whole((0, "at least 1"), (-1, "at least 1"), (100_001, "at most")),
    "Routine.background_flatness": number((-1, "at least 0"), (1, "below 1")),
    "Routine.background_patch": quantity("arcsec", *NEGATIVE_OR_ZERO, ("4e5", "at most")),
    "Routine.counts": other(
        (5, "tables"), ("x", "tables"), ([5], "table of keys and values"), ([{}], 'needs the key "sub_length"')
    ),
    "Count.sub_length": quantity("s", *NEGATIVE_OR_ZERO, ("86401", "at most 86400")),
    "Count.dither_every": whole((0, "at least 1"), (-1, "at least 1"), (10_001, "at most"), ("sometimes", '"never"')),
    "Count.taken": whole((0, "at least 1"), (-1, "at least 1"), (10**7, "at most"), (6, "at most the 6 subs taken")),
    "Count.spoiled": whole((-1, "at least 0"), (10**7, "at most"), (121, "at most the 120 subs taken")),
    "Night.date": [
        *NO_DATE,
        ("1800-01-01", "1951 to 2098"),
    ],
    "Night.sun_limit": quantity("deg", ("-19", "at least -18"), ("1", "at most 0")),
    "Night.earliest": other(
        ("25:00", "time of day"), ("8 pm", "time of day"), (5, "time of day"), ("04:30", "before latest")
    ),
    "Night.latest": other(
        ("24:00", "time of day"), ("", "time of day"), (24.5, "time of day"), ("20:00", "before latest")
    ),
    "Night.clear_share": number((0, "above 0"), (-0.1, "above 0"), (1.1, "at most 1")),
    "Night.refocus_after": quantity("K", *NEGATIVE_OR_ZERO, ("101", "at most 100")),
    "Night.focus_every": quantity("s", *NEGATIVE_OR_ZERO, ("86401", "at most 86400")),
    "Night.focus_time": quantity("s", NEGATIVE, ("3601", "at most 3600")),
    "Night.flip_time": quantity("s", NEGATIVE, ("7201", "at most 7200")),
    "Night.filter_change_time": quantity("s", NEGATIVE, ("7201", "at most 7200")),
    "Night.battery": quantity("W h", *NEGATIVE_OR_ZERO, ("1e7", "at most")),
    "Night.power": quantity("W", *NEGATIVE_OR_ZERO, ("1e6", "at most")),
    "Night.storage": quantity("Gbyte", *NEGATIVE_OR_ZERO, ("1e8", "at most")),
    "Goal.snr": number((0, "above 0"), (-1, "above 0"), (1e7, "at most")),
    "Goal.noise_growth": number((0, "above 0"), (-0.1, "above 0"), (11, "at most 10")),
    "Goal.unsaturated_star": quantity("mag", ("-31", "at least -30"), ("41", "at most 40")),
    "Goal.sky_share_of_well": number((0, "above 0"), (-1, "above 0"), (1.1, "at most 1")),
    "Moon.illuminated": number((-0.1, "at least 0"), (1.1, "at most 1")),
    "Moon.phase_angle": quantity("deg", ("-1", "at least 0"), ("181", "at most 180"), ("45", "got both")),
    "Moon.altitude": quantity("deg", ("-91", "at least -90"), ("91", "at most 90")),
    "Moon.separation": quantity("deg", ("0.5", "at least 1"), ("181", "at most 180"), ("10", "got 10 deg")),
    "Doubt.lamp_colour": number((-0.1, "at least 0"), (6, "at most 5")),
    "Doubt.filter_centre": quantity("nm", NEGATIVE, ("51", "at most 50")),
    **{
        f"Doubt.{name}": number((0, "at least 1"), (0.9, "at least 1"), (-2, "at least 1"), ("-5 %", "at least 0"))
        for name in (
            "lamp_mix",
            "natural_sky",
            "target",
            "efficiency",
            "extinction",
            "dark_current",
            "read_noise",
            "seeing",
            "narrow_sky",
            "filter_width",
            "moonlight",
            "flatness",
            "measured_sky",
        )
    },
    "Doubt.practice": number(
        (0, "at least 1"), (0.9, "at least 1"), (101, "at most 100"), ("publisht", "must be a number")
    ),
    **{
        f"{light}.doubt": number((0, "at least 1"), (0.9, "at least 1"), ("-5 %", "at least 0"))
        for light in ("LineLight", "ContinuumLight", "StarLight")
    },
    "Filter.place": choice("ahead of the lense", "ahead of the lens"),
    "Telescope.vignetting": number((-0.1, "at least 0"), (1, "below 1")),
    "Telescope.field_angle": quantity("deg", NEGATIVE, ("46", "at most 45")),
    "Conditions.altitude": quantity("deg", *NEGATIVE_OR_ZERO, ("91", "at most 90")),
    "Conditions.date": NO_DATE,
    "Conditions.moon": [(value, "table of keys and values") for value in (5, "x", [], True, math.nan)],
    "Case.measured_under": [(value, "must be a table") for value in (5, "x", [], True, math.nan)],
}


def nouns(thing, place=()):
    """Every noun within a noun, with its place in the plan."""
    if isinstance(thing, Noun):
        yield place, thing
        for field in dataclasses.fields(thing):
            yield from nouns(getattr(thing, field.name), (*place, field.name))
    elif isinstance(thing, Mapping):
        for key, entry in thing.items():
            yield from nouns(entry, (*place, key))
    elif isinstance(thing, tuple):
        for at, entry in enumerate(thing):
            yield from nouns(entry, (*place, at))


# The first noun of each class.
FOUND = {
    type(noun).__name__: (place, noun) for place, noun in reversed(list(nouns(Plan.parse(tomlkit.dumps(WHOLE)).case)))
}


def put(values, place, value):
    """The whole plan with one value in another's place; MISSING takes it out."""
    values = copy.deepcopy(values)
    inner = values
    for step in place[:-1]:
        inner = inner[step]
    if value is MISSING:
        del inner[place[-1]]
    else:
        inner[place[-1]] = value
    return values


def refusal(path, capsys):
    """What the command says of a plan that it refuses; all that must hold of every refusal."""
    before = path.read_bytes(), path.stat().st_mtime_ns
    code = main([str(path)])
    said = capsys.readouterr()
    assert code == 2, f"exit code {code}: {said.out}"
    assert said.out == ""
    assert said.err.startswith("expocalc: ")
    assert said.err.count("\n") == 1, "more than one line"
    sentence = said.err.removesuffix("\n")
    assert sentence.isprintable()
    assert len(sentence) < 700
    assert "Error" not in sentence
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before
    return sentence


@pytest.fixture
def refused(tmp_path, capsys):
    """Function that gives the sentence with which a plan, as values, text or bytes, is refused."""

    def refuse(plan):
        content = plan if isinstance(plan, bytes) else (plan if isinstance(plan, str) else tomlkit.dumps(plan)).encode()
        path = tmp_path / "plan.toml"
        path.write_bytes(content)
        return refusal(path, capsys)

    return refuse


def test_the_whole_plan_is_good(tmp_path, capsys):
    path = tmp_path / "plan.toml"
    path.write_text(tomlkit.dumps(WHOLE))
    assert main([str(path)]) == 0
    assert capsys.readouterr().err == ""


def test_every_field_has_its_cases():
    fields = {f"{name}.{f.name}" for name, (_, noun) in FOUND.items() for f in dataclasses.fields(noun)}
    assert fields == set(FIELDS)


def label(case):
    return ascii(case)[:50] if not isinstance(case, str) else case


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [(field, value, words) for field, cases in FIELDS.items() for value, words in cases],
    ids=label,
)
def test_bad_value_is_refused_by_name(refused, field, value, words):
    noun, name = field.split(".")
    sentence = refused(put(WHOLE, (*FOUND[noun][0], name), value))
    assert words in sentence
    # what the user has to look for in the file: the field, or the group that it does not fit into
    assert name in sentence or words


def examples(read, name):
    """Examples in a field's refusal of a date, as values."""
    with pytest.raises((TypeError, ValueError)) as refusal:
        read(name, [] if name == "date" else DAY)
    for example in re.split(r' or (?=")', str(refusal.value).partition("; write it like ")[2]):
        with contextlib.suppress(SyntaxError, ValueError):  # some show a line of the file
            value = ast.literal_eval(example)
            yield from value if isinstance(value, tuple) else [value]  # a plan has no tuples: several, with commas


def test_every_example_in_a_refusal_is_good():
    tried = 0
    for field in (field for _, noun in FOUND.values() for field in fields_of(type(noun))):
        for value in examples(field.read, field.name):
            field.read(field.name, value)
            tried += 1
    assert tried > 50


@pytest.mark.parametrize("noun", FOUND)
def test_unknown_key_is_refused_with_the_near_one(refused, noun):
    place, found = FOUND[noun]
    name = max((f.name for f in dataclasses.fields(found)), key=len)
    near = name[:-2] + name[-1]
    sentence = refused(put(WHOLE, (*place, near), 5))
    assert near in sentence
    assert f'did you mean "{name}"?' in sentence


@pytest.mark.parametrize("noun", FOUND)
def test_unknown_key_that_is_near_to_none_is_refused(refused, noun):
    assert "flurbs" in refused(put(WHOLE, (*FOUND[noun][0], "flurbs"), 5))


REQUIRED = [
    (*place, f.name)
    for place, noun in FOUND.values()
    for f in dataclasses.fields(noun)
    if f.default is MISSING and f.default_factory is MISSING
]


@pytest.mark.parametrize("place", REQUIRED, ids=lambda place: ".".join(map(str, place)))
def test_missing_key_is_named(refused, place):
    sentence = refused(put(WHOLE, place, MISSING))
    assert str(place[-1]) in sentence


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({("camera", "quantum_efficiency"): [[400, 0.5], [600, 0.5]]}, 'must cover all that the filter "H-alpha"'),
        ({("telescope", "throughput"): [[600, 0.9], [700, 0.9]]}, 'must cover all that the filter "V"'),
        ({("camera", "mosaic"): "RGGB"}, 'measured sky of "H-alpha" must be a rate for each of R, G, B'),
        ({("sky", "measured"): {"V": {"R": "1 electron/s"}}}, 'measured sky of "V" must be one rate'),
        ({("filters", 1, "name"): "H-alpha"}, "'H-alpha' more than once"),
        ({("filters", 0, "passbands", 0, "standard"): "bessell-V"}, "exactly one of centre and width"),
        ({("filters", 0, "passbands", 0, "width"): MISSING}, "width is missing"),
        ({("target", "declination"): MISSING}, "got no declination"),
        ({("camera", "dark_current", "activation"): "0.6 eV"}, "one of doubles_every and activation"),
        ({("camera", "dark_current", "doubles_every"): MISSING}, "one of doubles_every and activation"),
        ({("target", "light", 0, "star"): "9 mag"}, "exactly one of line, continuum, star"),
        ({("sky", "zenith_brightness"): MISSING}, "exactly one of zenith_brightness, bortle"),
    ],
    ids=lambda case: next(iter(case))[-1] if isinstance(case, dict) else None,
)
def test_fields_that_do_not_fit_together_are_refused(refused, changes, words):
    values = WHOLE
    for place, value in changes.items():
        values = put(values, place, value)
    assert words in refused(values)


@pytest.mark.parametrize("kind", ["filters", "passbands", "light"])
def test_too_many_entries_are_refused(refused, kind):
    place = {"filters": ("filters",), "passbands": ("filters", 1, "passbands"), "light": ("target", "light")}[kind]
    inner = WHOLE
    for step in place:
        inner = inner[step]
    many = [inner[-1] | ({"name": f"filter {at}"} if kind == "filters" else {}) for at in range(101)]
    assert "at most 100" in refused(put(WHOLE, place, many))


# --- files ---

PLAN = tomlkit.dumps(WHOLE)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b" \n\t\n", "is empty"),
        (b"# only a comment\n", "needs a section [sky]"),
        (bytes(range(256)) * 20, "is not a text file"),
        (PLAN.encode("utf-16"), "is not a text file"),
        (b"\x00" * 500, "not valid TOML"),
        (b'title = "x"\ntelescope = {\n', "line 2, column 14"),
        (b'title = "x"\n\n[sky]\nbortle == 6\n', "line 4, column 9"),
        (b"[sky]\nbortle = 6\nbortle = 6\n", "line 3"),
        (b'title = "\x1b[31m"', "line 1, column 10"),
        (b"x = " + b"[" * 100_000, "nested"),
        (b"x = " + b"{ a = " * 100_000, "nested"),
        (b"a" + b".a" * 400_000 + b" = 1", "nested"),
        (b"[a" + b".'a'" * 100_000 + b"]", "nested"),
        (b"x = " + b"{ a.a.a.a.a.a = " * 20 + b"1" + b"}" * 20, "nested"),
        (b"x = " + b"9" * 5000, "64 bits"),
        (b"x = 0x" + b"f" * 5000, "64 bits"),
        (b"x = " + b"9" * 900_000, "64 bits"),
        (b"a" * 900_000, "not valid TOML"),
        (b"a" * 900_000 + b" = 1", "has no section"),
        (b'"' + b"\\u001b[31m" * 1000 + b'" = 1', "has no section"),
        (b"telescop = { }", 'did you mean "telescope"'),
    ],
    ids=lambda case: ascii(case)[:30] if isinstance(case, bytes) else None,
)
def test_file_that_holds_no_plan_is_refused(refused, content, words):
    assert words in refused(content)


def test_large_file_is_refused_unread(tmp_path, capsys):
    path = tmp_path / "plan.toml"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    assert main([str(path)]) == 2
    assert capsys.readouterr().err == "expocalc: plan.toml is 50 MB; it may be a text of at most 1 MB\n"


def test_missing_file_is_refused(tmp_path, capsys):
    assert main([str(tmp_path / "none.toml")]) == 2
    assert "none.toml can't be read: No such file" in capsys.readouterr().err


def test_directory_is_refused(tmp_path, capsys):
    assert main([str(tmp_path)]) == 2
    said = capsys.readouterr().err
    assert "can't be read: Is a directory" in said
    assert said.count("\n") == 1


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_pipe_is_refused_without_waiting(tmp_path, capsys):
    os.mkfifo(tmp_path / "pipe")
    assert main([str(tmp_path / "pipe")]) == 2
    assert "is not a file" in capsys.readouterr().err


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no such devices here")
def test_endless_device_is_refused(capsys, refused):
    assert main(["/dev/zero"]) == 2
    assert "is not a file" in capsys.readouterr().err
    assert "not a file" in refused(put(WHOLE, ("filters", 2, "passbands", 0, "table"), "/dev/zero"))


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="no such permissions here")
def test_file_without_permission_is_refused(tmp_path, capsys):
    path = tmp_path / "plan.toml"
    path.write_text(PLAN)
    path.chmod(0)
    root = os.geteuid() == 0  # may read everything
    try:
        if root:
            os.seteuid(65534)
        assert main([str(path)]) == 2
    finally:
        if root:
            os.seteuid(0)
    assert "plan.toml can't be read: Permission denied" in capsys.readouterr().err


@pytest.mark.parametrize("write", ["append", "truncate", "touch"])
def test_file_that_changes_while_it_is_read_is_refused(tmp_path, capsys, monkeypatch, write):
    path = tmp_path / "plan.toml"
    path.write_text(PLAN)
    honest, calls = os.fstat, itertools.count()

    def fstat(handle):
        found = honest(handle)
        if next(calls) == 0:  # after the first look, before the file is read
            if write == "append":
                path.write_text(PLAN + "\n")
            elif write == "truncate":
                os.truncate(path, 100)
            else:
                os.utime(path, ns=(1, found.st_mtime_ns + 1))
        return found

    monkeypatch.setattr(textfile.os, "fstat", fstat)
    assert main([str(path)]) == 2
    said = capsys.readouterr().err
    assert said == "expocalc: plan.toml is being written by another program; try again when it is done\n"


@pytest.mark.parametrize("kept", range(1, len(PLAN), 61))
def test_half_written_plan_gives_an_answer_or_a_sentence(kept, tmp_path, capsys):
    path = tmp_path / "plan.toml"
    path.write_text(PLAN[:kept])
    code = main([str(path)])
    said = capsys.readouterr()
    assert code == (2 if kept < PLAN.index("[target]") else code)
    assert code in (0, 2)
    assert said.err.count("\n") == code // 2


# --- user's texts on a terminal ---


def texts(values, place=()):
    """Places of all texts of a plan."""
    if isinstance(values, str):
        yield place
    elif isinstance(values, dict | list):
        for key, entry in values.items() if isinstance(values, dict) else enumerate(values):
            yield from texts(entry, (*place, key))


@pytest.mark.parametrize("place", list(texts(WHOLE)), ids=lambda place: ".".join(map(str, place)))
@pytest.mark.parametrize("evil", ["\x1b]0;title\x07", "\r\nx", "\u202e", "\x9b31m"], ids=ascii)
def test_no_text_of_a_plan_commands_the_terminal(refused, place, evil):
    inner = WHOLE
    for step in place:
        inner = inner[step]
    refused(put(WHOLE, place, inner + evil))


@pytest.mark.parametrize(
    "place",
    [
        (),
        ("sky",),
        ("sky", "lamps"),
        ("sky", "measured"),
        ("telescope",),
        ("camera",),
        ("camera", "gains", "high"),
        ("filters", 0),
        ("target", "light", 0),
    ],
)
def test_no_key_of_a_plan_commands_the_terminal(refused, place):
    refused(put(WHOLE, (*place, ESCAPE + "\n"), 0.1))


def test_no_name_of_a_file_commands_the_terminal(tmp_path, capsys):
    assert main([str(tmp_path / f"{ESCAPE}\n.toml")]) == 2
    said = capsys.readouterr().err
    assert "\x1b" not in said
    assert said.count("\n") == 1


@pytest.mark.parametrize("text", ["<script>alert(1)</script>", "$\\frac{1}{2}$", "%s {0} {{x}}", "[link](x)", "ü 星雲"])
def test_markup_is_text(tmp_path, capsys, text):
    path = tmp_path / "plan.toml"
    values = put(put(WHOLE, ("title",), text), ("filters", 1, "name"), text)
    path.write_text(tomlkit.dumps(values), encoding="utf-8")
    assert main([str(path)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert sum(line.startswith(text) for line in lines) >= 3, "the title, a row and the verdict"


def test_longest_names_are_shown_whole(tmp_path, capsys):
    path = tmp_path / "plan.toml"
    path.write_text(tomlkit.dumps(put(WHOLE, ("filters", 1, "name"), "x" * 200)))
    assert main([str(path)]) == 0
    assert "x" * 200 in capsys.readouterr().out


def test_bad_plan_is_an_error_of_one_kind():
    with pytest.raises(PlanError, match="needs a unit convertible to mm"):
        Plan.parse(tomlkit.dumps(put(WHOLE, ("telescope", "aperture"), 102)))
    assert issubclass(PlanError, ValueError)


def test_absurd_numbers_are_refused_together(refused):
    values = put(WHOLE, ("target", "light", 0, "brightness"), "1e300 R")
    assert "too large or too small" in refused(values)
    assert np.geterr()["over"] != "raise", "the setting must not stay"
