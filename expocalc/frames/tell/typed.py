"""The sky from numbers that any viewer shows: the middle of a test sub, that of a bias or dark, and the seconds."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

from expocalc.base.words import colour_word, say_number
from expocalc.budget.answer import filter_named
from expocalc.budget.case import Case
from expocalc.budget.rates import rates

__all__ = ["BELOW", "TypedSky", "sky_of_medians"]

BELOW = ("bias", "dark")
"""What the level below the light was read from."""
_FULL = 0.95
"""Part of the well from which a middle tells nothing: common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class TypedSky:
    """Sky of one filter, by colour.

    Attributes
    ----------
    filter_shown : str
    sky_e_s, ratio : mapping of str to float
        Per pixel, without dark current, and over what the model gives. [electron s-1, -]
    value : str or mapping
        As a plan's [sky.measured] takes it.
    """

    filter_shown: str
    sky_e_s: Mapping[str, float]
    ratio: Mapping[str, float]
    value: str | Mapping[str, str]

    @property
    def sentence(self) -> str:
        """What was found, colour by colour."""
        rates = ", ".join(f"{_colour(c)}{say_number(rate, 3)}" for c, rate in self.sky_e_s.items())
        ratios = ", ".join(f"{_colour(c)}{say_number(one, 3)}" for c, one in self.ratio.items())
        beside = f", {ratios} times what the plan expects" if ratios else ""
        return f"The sky brings {rates} electron/s to a pixel through {self.filter_shown}{beside}."


def _colour(colour: str) -> str:
    return "" if colour == "mono" else f"{colour_word(colour)} "


def sky_of_medians(
    case: Case, filter_name: str, medians: Mapping[str, float], below_adu: float, seconds: float, below: str = "bias"
) -> TypedSky:
    """The sky that a test sub's middle means.

    Parameters
    ----------
    case : Case
        Its camera turns ADU into electrons; its model is what the sky is held against.
    filter_name : str
    medians : mapping of str to float
        Median of the pixels of each of the camera's colours, "mono" or "R", "G" and "B". [ADU]
    below_adu : float
        Median of a bias or a dark. [ADU]
    seconds : float
        Exposure. [s]
    below : {"bias", "dark"}, optional
        A dark of the sub's own length holds the dark current; with a bias the camera's is taken off as well.

    Raises
    ------
    ValueError
        If a colour is missing, or a median lies below that level or at the top of the well.

    Notes
    -----
    Half the pixels lie below the median, so stars hardly move it; the median of Poisson numbers lies a third of an
    electron under their mean at most, which nothing needs.

    Examples
    --------
    >>> from expocalc.plan import Plan
    >>> plan = Plan.example()
    >>> found = sky_of_medians(plan.case, "H-alpha", {"mono": 560}, 500, 120, below="dark")
    >>> found.sky_e_s["mono"], found.value
    (0.125, '0.125 electron/s')
    """
    camera = case.camera
    if set(medians) != set(camera.colours):
        msg = f"medians must be given for {', '.join(camera.colours)}, got {', '.join(medians) or 'none'}"
        raise ValueError(msg)
    setting = camera.setting
    full_adu = below_adu + _FULL * setting.saturation_e / setting.electrons_per_adu
    dark_e_s = 0.0 if below == "dark" else float(camera.dark_e_s)
    found = {}
    for colour in camera.colours:
        median = medians[colour]
        of = "Median" if colour == "mono" else f"Median in {colour_word(colour)}"
        if not below_adu < median < full_adu:
            msg = (
                f"{of} must lie between the {below}'s level, {below_adu:g} ADU, and the top of the well, "
                f"{full_adu:.0f} ADU, got {median:g} ADU"
            )
            raise ValueError(msg)
        found[colour] = max((median - below_adu) * setting.electrons_per_adu / seconds - dark_e_s, 0.0)
    plain = dataclasses.replace(case, sky=dataclasses.replace(case.sky, measured=None)) if case.sky.measured else case
    model = rates(plain, filter_named(case, filter_name)).model_sky_e_s
    texts = {colour: f"{rate:.4g} electron/s" for colour, rate in found.items()}
    return TypedSky(
        filter_shown=case.filter_shown(filter_name),
        sky_e_s=found,
        ratio={c: found[c] / float(one) for c, one in zip(camera.colours, model, strict=True) if one > 0},
        value=texts["mono"] if "mono" in texts else texts,
    )
