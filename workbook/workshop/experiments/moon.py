"""A narrow filter still sees the sky: the Moon costs hours, mostly more in O III than in H-alpha."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from expocalc.base.words import say_duration, say_number
from expocalc.budget.answer import filter_named
from expocalc.budget.rates import rates
from expocalc.light.moon import Moon
from workbook.workshop.ask import Ask
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import Chart, Experiment, Outcome
from workbook.workshop.experiments.rig import H_ALPHA, O_III, Rig, demo, rig_of
from workbook.workshop.experiments.shell import under_each_sky

__all__ = ["EXPERIMENT", "moonlight_e_s", "run", "with_moon"]

HOURS, SUB_S, GOAL = 4.0, 300.0, 10.0
LIGHTS = (H_ALPHA, O_III)
MOON_ALTITUDE_DEG = 45.0
START_SKY, START_AWAY_DEG = 19.1, 60.0
HARDLY = 0.05
"""A share of the hours that hardly counts."""
_SEED = 112
_PERCENT = 100


@lru_cache(maxsize=64)
def moonlight_e_s(light: str, illuminated: float, separation_deg: float) -> float:
    """What the Moon adds to a pixel in the filter of a light, whatever the sky is without it. [electron s-1]"""
    moon = Moon(illuminated=illuminated, altitude=f"{MOON_ALTITUDE_DEG} deg", separation=f"{separation_deg!r} deg")
    case = replace(demo().case, moon=moon)
    return float(rates(case, filter_named(case, f"{light} 5 nm")).moon_e_s[0])


def with_moon(rig: Rig, light: str, illuminated: float, separation_deg: float) -> Rig:
    """The rig when the Moon is up."""
    return replace(rig, sky_e_s=rig.sky_e_s + moonlight_e_s(light, illuminated, separation_deg))


def run(sky_mag: float, lit_percent: float, separation_deg: float) -> Outcome:
    """Four hours of H-alpha and of O III, without the Moon and with it."""
    lit = lit_percent / _PERCENT
    dark = [rig_of(light, sky__zenith_brightness=f"{sky_mag!r} mag/arcsec2") for light in LIGHTS]
    moonlit = [with_moon(rig, light, lit, separation_deg) for rig, light in zip(dark, LIGHTS, strict=True)]
    rigs = [dark[0], moonlit[0], dark[1], moonlit[1]]
    names = [f"{light}, {moon}" for light in LIGHTS for moon in ("no Moon", "Moon")]
    factors = [one.sky_e_s / other.sky_e_s for one, other in zip(moonlit, dark, strict=True)]
    cost = [one.hours(SUB_S, GOAL) / other.hours(SUB_S, GOAL) for one, other in zip(moonlit, dark, strict=True)]
    skies = np.linspace(18, 21.5, 15)
    sky_e_s = np.array([rig_of(sky__zenith_brightness=f"{float(mag)!r} mag/arcsec2").sky_e_s for mag in skies])
    dark_e_s = np.array(dark[0].dark_e_s)
    return Outcome(
        takeaway=(
            f"This Moon makes the sky {say_number(factors[0])} times as bright in H-alpha and "
            f"{say_number(factors[1])} times in "
            f"O III: the same SNR asks for {say_number(cost[0])} and {say_number(cost[1])} times the hours."
        ),
        take_home=(
            "A narrow filter lets in less sky, but it still lets in sky. "
            + _which(cost, separation_deg)
            + " An hour under this Moon is worth "
            + " and ".join(f"{_worth(times)} without it in {light}" for light, times in zip(LIGHTS, cost, strict=True))
            + "."
        ),
        holds=max(cost) - 1 < HARDLY,
        basis=(
            f"{HOURS:g} h in each picture, demo plan, Moon {MOON_ALTITUDE_DEG:g}° up, one stretch "
            "about each sky's own mean. "
            "Clear air: haze makes it worse. Its light in other colours than green is an estimate."
        ),
        **under_each_sky(rigs, names, SUB_S, HOURS, _SEED),
        chart=Chart(
            title=f"Hours of H-alpha until SNR {GOAL:g}",
            x_label="sky, mag/arcsec² (larger: darker)",
            y_label="hours",
            describes=(
                "Hours fall as the sky gets darker, also through a narrow filter; the Moon costs most at a dark place."
            ),
            x=skies,
            curves={
                "no Moon": dark[0].hours_under(SUB_S, GOAL, sky_e_s, dark_e_s),
                "this Moon": dark[0].hours_under(
                    SUB_S, GOAL, sky_e_s + moonlight_e_s(H_ALPHA, lit, separation_deg), dark_e_s
                ),
            },
            here=(sky_mag, moonlit[0].hours(SUB_S, GOAL)),
            log_x=False,
        ),
    )


def _worth(times: float) -> str:
    return say_duration(3600 / times)


def _which(cost: list[float], separation_deg: float) -> str:
    """Which of the two filters this Moon costs more, and near or far."""
    where = f"At {separation_deg:g}° from the Moon"
    if max(cost) - 1 < HARDLY:
        return f"{where}, this one costs next to nothing."
    if abs(cost[0] / cost[1] - 1) < HARDLY:
        return f"{where}, it costs both filters alike."
    worse, less = (LIGHTS[0], LIGHTS[1]) if cost[0] > cost[1] else (LIGHTS[1], LIGHTS[0])
    near = " Close to the Moon dust scatters its light, and dust is no bluer than lamps." if worse == H_ALPHA else ""
    return f"{where}, it costs {worse} more than {less}.{near}"


def _start_cost() -> float:
    dark = rig_of()
    return with_moon(dark, H_ALPHA, 1.0, START_AWAY_DEG).hours(SUB_S, GOAL) / dark.hours(SUB_S, GOAL)


EXPERIMENT = Experiment(
    belief="“A narrow filter needs no dark sky, and the Moon does not matter.”",
    ask=Ask(
        key="moon-hours",
        question=f"The Moon is full, {START_AWAY_DEG:g}° from the shell. H-alpha takes how many times the hours?",
        unit="times",
        truth=lambda: _start_cost(),
        mark=lambda times: (START_SKY, times * rig_of().hours(SUB_S, GOAL)),
    ),
    does=f"{HOURS:g} hours of the shell in H-alpha and in O III, without and with the Moon.",
    dials={
        "sky_mag": Dial(
            label="Sky, no Moon", unit="mag/arcsec2", low=17, high=21.8, step=0.1, example="19,1", start=START_SKY
        ),
        "lit_percent": Dial(label="Moon lit", unit="%", low=0, high=100, step=5, example="100", start=100),
        "separation_deg": Dial(
            label="Moon's distance", unit="deg", low=15, high=75, step=1, example="60", start=START_AWAY_DEG
        ),
    },
    run=run,
)
