"""Wet bulb and Delta T, by the equations of the ASHRAE handbook as a library holds them.

The library keeps its system of units for the whole process; nothing else here uses it, and it is set once to SI.
"""

from __future__ import annotations

import psychrolib

psychrolib.SetUnitSystem(psychrolib.SI)
_SEA_LEVEL_M = 0.0


def celsius(fahrenheit: float) -> float:
    """A temperature [degC] from one in degF.

    >>> celsius(50)
    10.0
    """
    return (fahrenheit - 32.0) * 5.0 / 9.0


def wet_bulb_c(air_c: float, rh_pct: float, elevation_m: float | None = None) -> float:
    """Wet-bulb temperature.

    Parameters
    ----------
    air_c : float
        Air temperature [degC], -100 to 200.
    rh_pct : float
        Relative humidity [percent], 0 to 100.
    elevation_m : float, optional
        Height above the sea [m], for the pressure of the standard atmosphere; the sea's where it is not told.

    Returns
    -------
    float
        Wet-bulb temperature [degC].

    Raises
    ------
    ValueError
        Outside these ranges.
    """
    pressure = psychrolib.GetStandardAtmPressure(_SEA_LEVEL_M if elevation_m is None else elevation_m)
    found: float = psychrolib.GetTWetBulbFromRelHum(air_c, rh_pct / 100.0, pressure)
    return found


def delta_t_c(air_f: float, rh_pct: float, elevation_m: float | None = None) -> float:
    """Delta T: air temperature less wet-bulb temperature.

    Parameters
    ----------
    air_f : float
        Air temperature [degF].
    rh_pct : float
        Relative humidity [percent].
    elevation_m : float, optional
        Height above the sea [m].

    Returns
    -------
    float
        Difference [degC], never below zero.

    >>> round(delta_t_c(68, 50), 1)
    6.2
    """
    air = celsius(air_f)
    return max(air - wet_bulb_c(air, rh_pct, elevation_m), 0.0)
