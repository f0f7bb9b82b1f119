"""One detector: what each of its pixels has of its own, drawn once, and how it turns electrons into numbers.

Nothing here is measured. The sizes of :class:`Unevenness` are invented, of the order that people see: an assumption.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from expocalc.base.curve import Floats
from expocalc.gear.gain import GainSetting

__all__ = ["Detector", "Unevenness", "even_detector", "uneven_detector"]

Shape = tuple[int, int]
_STAND_IN_SIGMAS = 20.0


@dataclass(frozen=True, kw_only=True)
class Unevenness:
    """How much the pixels of a detector differ; standard deviations over pixels.

    Attributes
    ----------
    offset_e : float
        Of the bias. [electron]
    dark_share : float
        Of the dark current, as a share of its mean (log-normal).
    flat_share : float
        Of the response to light, as a share of it.
    hot_share : float
        Share of the pixels that are hot.
    hot_e_s : float
        What a hot pixel has on top. [electron s-1]
    leftover_e : float
        Pattern in subs that no dark holds, so that calibration leaves it: a plan's `pattern.fixed`. [electron]
    leftover_flat : float
        The same for flats, as a share of the light: a plan's `pattern.flat`.
    """

    offset_e: float = 1.0
    dark_share: float = 0.3
    flat_share: float = 0.01
    hot_share: float = 0.0
    hot_e_s: float = 1.0
    leftover_e: float = 0.0
    leftover_flat: float = 0.0

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if not 0 <= value < math.inf:
                msg = f"{name} must be at least 0 and finite, got {value:g}"
                raise ValueError(msg)
        if self.hot_share > 1:
            msg = f"hot_share must be at most 1, got {self.hot_share:g}"
            raise ValueError(msg)


@dataclass(frozen=True, eq=False, kw_only=True)
class Detector:
    """A detector, pixel by pixel; maps have the shape (rows, columns).

    Attributes
    ----------
    setting : GainSetting
        Read noise, electrons per ADU, bias level and wells.
    dark_e_s : ndarray
        Dark current and glow. [electron s-1]
    flat : ndarray
        Response to light over the mean.
    offset_e : ndarray
        Bias over its mean. [electron]
    leftover_e : ndarray
        As in :class:`Unevenness`. [electron]
    leftover_flat : ndarray
        As in :class:`Unevenness`, as a share.
    """

    setting: GainSetting
    dark_e_s: Floats
    flat: Floats
    offset_e: Floats
    leftover_e: Floats
    leftover_flat: Floats

    @property
    def shape(self) -> Shape:
        """Rows and columns. [pixel]"""
        rows, columns = self.flat.shape
        return rows, columns

    @cached_property
    def response(self) -> Floats:
        """What subs see of the light: the flat, and what no flat frame shows. [-]"""
        return self.flat * (1 + self.leftover_flat)

    @property
    def bias_adu(self) -> float:
        """Mean of a bias frame, in stored ADU.

        Where the setting has none, one that lies twenty times the read noise above 0, so that nothing is cut off.
        """
        if self.setting.bias_level is not None:
            return float(self.setting.bias_level)
        return float(math.ceil(_STAND_IN_SIGMAS * self._read_noise_e / self.setting.electrons_per_adu))

    @property
    def highest_adu(self) -> float:
        """Largest stored number. [ADU]"""
        return float((2**self.setting.bits - 1) * self.setting.native_step)

    @property
    def _read_noise_e(self) -> float:
        return float(self.setting.read_noise.value)

    @property
    def noise_before_steps_e(self) -> float:
        """Read noise before the converter rounds: one that was measured from biases holds the rounding. [electron]"""
        if self.setting.read_noise_kind == "emva":
            return self._read_noise_e
        return math.sqrt(max(self._read_noise_e**2 - self.setting.native_step_e**2 / 12, 0.0))

    def digitised(self, electrons: Floats) -> Floats:
        """Stored numbers for electrons above the mean bias, rounded to the converter's steps. [ADU]

        The array given is used for the numbers.

        Examples
        --------
        >>> setting = GainSetting(read_noise="1.5 e-", electrons_per_adu=0.5, bias_level=100, full_well="9000 e-")
        >>> even_detector(setting, 0.0, (1, 3)).digitised(np.array([-1.0, 0.3, 1e6])).tolist()
        [98.0, 101.0, 65535.0]
        """
        step = self.setting.native_step
        adu = electrons
        adu /= self.setting.native_step_e
        adu += self.bias_adu / step
        np.rint(adu, out=adu)
        adu *= step
        return np.clip(adu, 0.0, self.highest_adu, out=adu)


def even_detector(setting: GainSetting, dark_e_s: float, shape: Shape) -> Detector:
    """A detector whose pixels are all the same.

    Parameters
    ----------
    setting : GainSetting
        Of a camera: ``camera.setting``.
    dark_e_s : float
        Dark current and glow: ``camera.dark_e_s``. [electron s-1]
    shape : (int, int)
        [pixel]
    """
    _check_dark(dark_e_s)
    nothing = np.zeros(shape)
    return Detector(
        setting=setting,
        dark_e_s=np.full(shape, float(dark_e_s)),
        flat=np.ones(shape),
        offset_e=nothing,
        leftover_e=nothing,
        leftover_flat=nothing,
    )


def uneven_detector(
    setting: GainSetting, dark_e_s: float, shape: Shape, seed: int, unevenness: Unevenness | None = None
) -> Detector:
    """A detector with a pattern of its own; the same seed gives the same detector.

    Parameters
    ----------
    setting : GainSetting
    dark_e_s : float
        Mean dark current and glow without hot pixels. [electron s-1]
    shape : (int, int)
        [pixel]
    seed : int
    unevenness : Unevenness, optional

    Examples
    --------
    >>> setting = GainSetting(read_noise="1.5 e-", electrons_per_adu=0.5, full_well="15000 e-")
    >>> one, same = (uneven_detector(setting, 0.01, (64, 64), seed=7) for _ in range(2))
    >>> bool((one.flat == same.flat).all()), round(float(one.flat.std()), 2)
    (True, 0.01)
    """
    _check_dark(dark_e_s)
    size = unevenness or Unevenness()
    rng = np.random.default_rng(seed)
    spread = math.sqrt(math.log1p(size.dark_share**2))
    dark = dark_e_s * np.exp(spread * rng.standard_normal(shape) - spread**2 / 2)
    flat = np.maximum(1 + size.flat_share * rng.standard_normal(shape), 0.01)
    offset = size.offset_e * rng.standard_normal(shape)
    hot = rng.random(shape) < size.hot_share
    return Detector(
        setting=setting,
        dark_e_s=dark + size.hot_e_s * hot,
        flat=flat / flat.mean(),
        offset_e=offset,
        leftover_e=size.leftover_e * rng.standard_normal(shape),
        leftover_flat=size.leftover_flat * rng.standard_normal(shape),
    )


def _check_dark(dark_e_s: float) -> None:
    if not 0 <= dark_e_s < math.inf:
        msg = f"dark_e_s must be at least 0 electron/s, got {dark_e_s:g} electron/s; write it like 0.002"
        raise ValueError(msg)
