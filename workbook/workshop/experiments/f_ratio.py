"""A reducer packs the same light onto fewer pixels: each pixel wins, the nebula does not."""

from __future__ import annotations

from expocalc.base.words import say_number, say_share
from workbook.workshop.ask import Ask
from workbook.workshop.experiments.dial import Dial
from workbook.workshop.experiments.outcome import Experiment, Outcome, compared, tiles_of
from workbook.workshop.experiments.rig import demo, rig_of
from workbook.workshop.experiments.shell import PIXELS, limits_e, shoot, snrs

__all__ = ["EXPERIMENT", "run"]

HOURS, SUB_S, PATCH_ARCSEC = 6.0, 300.0, 15.0
_SUBS = round(HOURS * 3600 / SUB_S)
START, MUCH = 0.8, 1.25
HARDLY = 0.05
"""A share of the hours, or of the light, that hardly counts."""
_SEED = 114


def run(reducer: float) -> Outcome:
    """One telescope with and without a reducer, on the same patch of sky."""
    focal_mm = float(demo().case.telescope.focal_length.value)
    aperture_mm = float(demo().case.telescope.aperture.value)
    pixels = round(PIXELS * reducer / 2) * 2
    reduced_mm = focal_mm * pixels / PIXELS
    rigs = [rig_of(telescope__focal_length=f"{mm!r} mm") for mm in (focal_mm, reduced_mm)]
    shots = [
        shoot(rig, SUB_S, (_SUBS,), _SEED + at, side, PATCH_ARCSEC / rig.scale_arcsec)[0]
        for at, (rig, side) in enumerate(zip(rigs, (PIXELS, pixels), strict=True))
    ]
    hours = (shots[0].planned / shots[1].planned) ** 2
    # of the line, per patch of sky: what the steeper cone still lets through the filter
    passed = (rigs[1].target_e_s / rigs[1].scale_arcsec ** 2) / (rigs[0].target_e_s / rigs[0].scale_arcsec ** 2)
    in_pixel = [rig.snr(SUB_S, _SUBS, 1.0) for rig in rigs]
    ratios = [mm / aperture_mm for mm in (focal_mm, reduced_mm)]
    names = tuple(f"f/{ratio:.2g}, {mm:.0f} mm" for ratio, mm in zip(ratios, (focal_mm, reduced_mm), strict=True))
    # shown per square arcsecond, so that both pictures share one stretch
    areas = [rig.scale_arcsec**2 for rig in rigs]
    low, high = (end / areas[0] for end in limits_e(rigs[0], SUB_S, rigs[0].grain_e(SUB_S, _SUBS)))
    return Outcome(
        takeaway="Without a reducer both pictures are alike."
        if pixels == PIXELS
        else (
            f"f/{ratios[0]:.2g} to f/{ratios[1]:.2g}: SNR of a pixel {say_number(in_pixel[0])} to "
            f"{say_number(in_pixel[1])}, but of "
            f"the same patch of sky {say_number(shots[0].planned, 3)} to {say_number(shots[1].planned, 3)}: "
            f"{_times(hours)}."
        ),
        take_home=(
            "The front lens catches the light, and the reducer only packs it onto fewer pixels: it shows more sky. "
            + _cone(passed, hours)
        ),
        holds=hours < 1 - HARDLY,
        basis=(
            f"{HOURS:g} h of H-alpha, demo plan, the same piece of sky, one stretch. The patch is {PATCH_ARCSEC:g}″ × "
            f"{PATCH_ARCSEC:g}″. In subs of {SUB_S:g} s read noise counts for little."
        ),
        tiles=tiles_of(
            [shot.picture / area for shot, area in zip(shots, areas, strict=True)],
            (low, high),
            list(names),
            ["the shell in small pixels with more grain", "the shell in larger pixels with less grain"],
        ),
        table=compared(
            f"SNR of a patch of {PATCH_ARCSEC:g}″",
            "SNR",
            names,
            **snrs(shots),
            more={
                "pixel, ″": tuple(say_number(rig.scale_arcsec, 3) for rig in rigs),
                "SNR of one pixel": tuple(say_number(one, 3) for one in in_pixel),
            },
        ),
        **snrs(shots),
    )


def _truth() -> str:
    snrs_ = run(START).planned
    change = snrs_[1] / snrs_[0]
    return "Much better" if change > MUCH else "Much worse" if change < 1 / MUCH else "About the same"


def _times(hours: float) -> str:
    """Hours for the same SNR of the patch, with the reducer."""
    if abs(hours - 1) < HARDLY:
        return "the same hours for the same patch"
    return f"{say_number(hours)} times the hours for the same patch"


def _cone(passed: float, hours: float) -> str:
    """What the steeper cone of light does in the narrow filter."""
    if abs(hours - 1) < HARDLY:
        return "Same front lens, same hours for the same patch."
    return (
        "But its cone of light is steeper, which shifts what a narrow filter lets through: of the line "
        f"{say_share(passed)} is left, and the hours are {say_number(hours)} times as many."
    )


EXPERIMENT = Experiment(
    belief="“A fast f-ratio catches more light from the nebula.”",
    ask=Ask(
        key="f-ratio",
        question="With a reducer the SNR of the same patch of nebula gets...",
        choices=("Much better", "About the same", "Much worse"),
        truth=lambda: _truth(),
    ),
    does=f"{HOURS:g} hours with one telescope, as it is and with a reducer that makes it shorter.",
    dials={"reducer": Dial(label="Reducer", unit="", low=0.5, high=1, step=0.05, example="0,8", start=START)},
    run=run,
)
