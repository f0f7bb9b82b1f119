"""Published depths as plans, and how many times the model's hours they took."""

import math
from functools import cache

import numpy as np
from astropy.table import Table
from scipy import stats

from expocalc.base.table import DATA
from expocalc.plan import Plan

AB_PHOTONS = 5.4799e6  # photon s-1 cm-2 per unit of ln(wavelength) at AB 0 (Oke & Gunn 1983)
RAYLEIGH = 1.8704e-6  # photon s-1 cm-2 arcsec-2 (Hunten et al. 1956)

PLAN = """
title = "{survey} {band}"
[site]
seeing = "{seeing} arcsec"
[sky]
zenith_brightness = "21.9 mag/arcsec2"
extinction = 0
measured = {{ band = "{sky_e_s} electron/s" }}
[telescope]
aperture = "{aperture} mm"
focal_length = "{focal_mm} mm"
throughput = {efficiency}
[camera]
pixel = "10 um"
columns = 4000
rows = 4000
quantum_efficiency = 1
dark_current = {{ rate = "0 electron/s", at = "-10 deg_C", doubles_every = "6 K" }}
gains.only = {{ read_noise = "{read_noise} electron", electrons_per_adu = 1, full_well = "1000000 electron" }}
[[filters]]
name = "band"
passbands = [{{ centre = "{wavelength} nm", width = "{width} nm", shape = "box", peak = 1 }}]
[target]
altitude = "90 deg"
patch = "{patch} arcsec"
light = [{light}]
[routine]
background_flatness = "perfect"
sub_length = "{sub} s"
{routine}
[goal]
snr = 0.01
noise_growth = 0.05
"""


@cache
def outcomes():
    return Table.read(DATA / "practice.ecsv", format="ascii.ecsv")


def plan_of(row):
    """The outcome's plan: a box that is as wide as the published throughput is in all."""
    values = {name: row[name] for name in row.colnames}
    scale, wavelength = float(row["scale"]), float(row["wavelength"])
    area_cm2 = math.pi / 4 * (float(row["aperture"]) / 10) ** 2
    if row["kind"] == "line":
        efficiency, width = 0.30, 20.0
        sky_e_s = 42 * RAYLEIGH * area_cm2 * scale**2 * efficiency
        light, patch = f'{{ line = "H-alpha", brightness = "{row["depth"]} R" }}', scale
    else:
        equivalent = 10 ** (0.4 * float(row["zero_point"])) / (AB_PHOTONS * area_cm2)  # of ln(wavelength)
        efficiency, width = 0.9, wavelength * 2 * math.sinh(equivalent / 0.9 / 2)
        sky_e_s = 10 ** (0.4 * (row["zero_point"] + row["air"] - row["sky"])) * scale**2
        light, patch = f'{{ star = "{row["depth"]} mag" }}', 10.0
        if row["kind"] == "aperture":  # light inside a circle, as much as a square of its area holds
            area = math.pi / 4 * float(row["diameter"]) ** 2
            light = f'{{ continuum = "{row["depth"] + 2.5 * math.log10(area)} mag/arcsec2" }}'
            patch = math.sqrt(area)
    diffraction = math.degrees(1.029 * wavelength * 1e-6 / float(row["aperture"])) * 3600
    seeing = math.sqrt(max(float(row["fwhm"]) ** 2 - diffraction**2, 0.01)) * (wavelength / 500) ** 0.2
    found = {
        **values,
        "seeing": min(seeing, 20.0),
        "sky_e_s": sky_e_s,
        "efficiency": efficiency,
        "width": width,
        "focal_mm": 10e-3 / math.radians(scale / 3600),
        "light": light,
        "patch": patch,
        "routine": f'guiding = "{math.sqrt(max(seeing**2 - 400, 0)) * math.sqrt(2) / 2.3548} arcsec"',
    }
    return Plan.parse(PLAN.format(**found))


@cache
def hours_ratios():
    """Hours that each outcome took over those of the model; the continuum that a line loses is counted."""
    ratios = []
    for row in outcomes():
        answer = plan_of(row).solve().rows[0]
        snr2 = answer.snr_patch**2 / answer.kept * float(row["subs"])
        if row["kind"] == "line":
            snr2 /= 2
        ratios.append(snr2 / float(row["snr"]) ** 2)
    return np.array(ratios)


def surveys():
    """Rows of each survey, as they stand in the table."""
    names = [str(name) for name in outcomes()["survey"]]
    return {name: np.array([i for i, other in enumerate(names) if other == name]) for name in dict.fromkeys(names)}


def by_survey():
    """Mean ln(hours ratio) of each survey; shape (surveys,)."""
    logs = np.log(hours_ratios())
    return np.array([logs[at].mean() for at in surveys().values()])


def fit(logs):
    """Mean of ln(hours ratio), and the half width within which the next survey lies in eight cases of ten.

    The interval of the next normal value (Student 1908): no judged error goes into it.
    """
    n = logs.size
    return float(logs.mean()), float(stats.t.ppf(0.9, n - 1) * logs.std(ddof=1) * math.sqrt(1 + 1 / n))
