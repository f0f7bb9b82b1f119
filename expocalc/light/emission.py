r"""Emission lines by name, with what always comes along.

References
----------
.. [storey] Storey, P. J. & Zeippen, C. J. 2000, MNRAS 312, 813: O III 500.7 / 495.9 = 2.98, N II 658.3 /
   654.8 = 3.05 (the second from memory).
.. [osterbrock] Osterbrock, D. E. & Ferland, G. J. 2006, Astrophysics of gaseous nebulae: wavelengths in
   air; S II 671.6 / 673.1 = 1.4 at low density (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from expocalc.base.photometry import photon_energy_erg

__all__ = ["LINES", "Line"]


class Line(NamedTuple):
    """An emission line by its usual name, with what always comes along.

    Parameters
    ----------
    wavelength_nm : tuple of float
        In air. [nm]
    share : tuple of float
        Photons at each wavelength for one photon of the brightness that goes by this name.
    """

    wavelength_nm: tuple[float, ...]
    share: tuple[float, ...]

    @property
    def photon_erg(self) -> float:
        """Mean energy of a photon of the brightness: of the first line, or of a sum's photons. [erg]"""
        total = sum(self.share)
        if total > 1 + 1e-9:  # companions come on top of the named line
            return photon_energy_erg(self.wavelength_nm[0])
        return sum(s * photon_energy_erg(w) for w, s in zip(self.wavelength_nm, self.share, strict=True)) / total


LINES: Mapping[str, Line] = MappingProxyType(
    {
        "H-alpha": Line(wavelength_nm=(656.28,), share=(1.0,)),
        "H-beta": Line(wavelength_nm=(486.13,), share=(1.0,)),
        "O III": Line(wavelength_nm=(500.68, 495.89), share=(1.0, 1 / 2.98)),  # [storey]_
        "N II": Line(wavelength_nm=(658.35, 654.80), share=(1.0, 1 / 3.05)),  # [storey]_
        "S II": Line(wavelength_nm=(671.64, 673.08), share=(1.4 / 2.4, 1 / 2.4)),  # [osterbrock]_
    }
)
"""Lines by name. The brightness is the named line's alone, of S II that of both lines together."""
