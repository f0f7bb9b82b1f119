"""Exposure budgets for a backyard deep-sky imager: from a sky reading to electrons, subs and hours.

The layers follow a photon: `light` arrives, passes the `gear`, adds up in the `budget`; `plan` reads the whole
case from one file. Import what you need from there; importing the package alone loads nothing.
"""

__version__ = "0.1.0"
