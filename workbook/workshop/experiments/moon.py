"""A narrow filter still sees the sky: the Moon costs hours, more in O III than in H-alpha."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from expocalc.base.words import say_number
from expocalc.budget.answer import filter_named
from expocalc.budget.stack import subs_for_snr
from expocalc.gear.response import response
from expocalc.light.moon import Moon, moon_factor, moon_spectrum
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import Chart, Experiment, Outcome, compared, tiles_of
from workbook.workshop.experiments.rig import (
    H_ALPHA,
    O_III,
    PERFECT,
    Rig,
    demo,
    limits_e,
    rig_of,
    shoot,
    snrs,
)

__all__ = ["EXPERIMENT", "brightened", "run"]

HOURS, SUB_S = 4.0, 300.0
MOON_ALTITUDE_DEG, V_NM = 45.0, 550.0
_SUBS = round(HOURS * 3600 / SUB_S)
_SEED = 112
_PERCENT = 100


def brightened(light: str, illuminated: float, separation_deg: float, sky_mag: float | None = None) -> float:
    """How many times brighter the Moon makes the sky in the filter of a light."""
    changes = {} if sky_mag is None else {("sky", "zenith_brightness"): f"{sky_mag!r} mag/arcsec2"}
    case = demo().with_values(changes).case if changes else demo().case
    altitude_deg = float(case.target.altitude.value)
    moon = Moon(
        illuminated=illuminated, altitude=f"{MOON_ALTITUDE_DEG} deg", separation=f"{separation_deg!r} deg"
    )
    k = float(case.sky.extinction_curve(float(case.site.elevation.value))(V_NM))
    seen = response(case.telescope, filter_named(case, f"{light} 5 nm"), case.camera, "mono")
    return moon_factor(case.sky, seen, moon_spectrum(moon, altitude_deg, k), altitude_deg)


def run(sky_mag: float, lit_percent: float, separation_deg: float) -> Outcome:
    """Four hours of H-alpha and of O III, without the Moon and with it."""
    rigs, names, factors = [], [], []
    for light in (H_ALPHA, O_III):
        rig = rig_of(light, sky__zenith_brightness=f"{sky_mag!r} mag/arcsec2")
        factor = brightened(light, lit_percent / _PERCENT, separation_deg, sky_mag)
        rigs += [rig, replace(rig, sky_e_s=rig.sky_e_s * factor)]
        names += [f"{light}, no Moon", f"{light}, Moon"]
        factors.append(factor)
    shots = [shoot(rig, SUB_S, (_SUBS,), _SEED + at)[0] for at, rig in enumerate(rigs)]
    cost = [rigs[at + 1].hours(SUB_S, 10.0) / rigs[at].hours(SUB_S, 10.0) for at in (0, 2)]
    limits = limits_e(rigs[0], SUB_S, rigs[3].grain_e(SUB_S, _SUBS))
    sky_e = [rig.sky_e_s * SUB_S for rig in rigs]
    skies = np.linspace(18, 21.5, 8)
    dark, lit = _hours(skies, lit_percent / _PERCENT, separation_deg)
    return Outcome(
        takeaway=(
            f"This Moon makes the sky {say_number(factors[0])} times as bright in H-alpha and "
            f"{say_number(factors[1])} times in "
            f"O III: the same SNR asks for {say_number(cost[0])} and {say_number(cost[1])} times the hours."
        ),
        basis=(
            f"{HOURS:g} h in each picture, demo plan, Moon {MOON_ALTITUDE_DEG:g}° up, one stretch "
            "about each sky's own mean. "
            "Clear air: haze makes it worse. The Moon in colours other than V is an estimate."
        ),
        tiles=tiles_of(
            [shot.picture - level + sky_e[0] for shot, level in zip(shots, sky_e, strict=True)],
            limits,
            names,
            [f"the shell, a ring, at SNR {say_number(shot.planned)}" for shot in shots],
        ),
        table=compared(
            f"SNR of a patch after {HOURS:g} h",
            "SNR",
            tuple(names),
            **snrs(shots),
            more={"sky, electrons a second": tuple(say_number(rig.sky_e_s, 3) for rig in rigs)},
        ),
        **snrs(shots),
        chart=Chart(
            title="Hours of H-alpha until SNR 10",
            x_label="sky, mag/arcsec² (a larger number is darker)",
            y_label="hours",
            describes=(
                "Hours fall as the sky gets darker, also through a narrow filter; the Moon costs most at "
                "a dark place."
            ),
            x=skies,
            curves={"no Moon": dark, "this Moon": lit},
            log=False,
        ),
    )


def _hours(skies: np.ndarray, illuminated: float, separation_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """Hours until SNR 10 without and with the Moon, for each sky. [h]"""
    found = []
    for mag in skies:
        rig = rig_of(sky__zenith_brightness=f"{float(mag)!r} mag/arcsec2")
        factor = brightened(H_ALPHA, illuminated, separation_deg, float(mag))
        found.append([_until(rig), _until(replace(rig, sky_e_s=rig.sky_e_s * factor))])
    dark, lit = np.array(found).T
    return dark, lit


def _until(rig: Rig) -> float:
    return float(subs_for_snr(rig.patch(SUB_S), PERFECT, 10.0)) * SUB_S / 3600


EXPERIMENT = Experiment(
    belief="“A narrow filter needs no dark sky, and the Moon does not matter.”",
    does=f"{HOURS:g} hours of the shell in H-alpha and in O III, without and with the Moon.",
    dials={
        "sky_mag": Dial(
            label="Sky, no Moon", unit="mag/arcsec2", low=17, high=21.8, step=0.1, example="19,1", start=19.1
        ),
        "lit_percent": Dial(label="Moon lit", unit="%", low=0, high=100, step=5, example="100", start=100),
        "separation_deg": Dial(
            label="Moon's distance", unit="deg", low=15, high=75, step=1, example="60", start=60
        ),
    },
    run=run,
)
