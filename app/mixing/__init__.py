"""From area and rate to what is poured: units, tanks, loads, calibration. Pure."""
