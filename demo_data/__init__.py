"""An invented branch: data alone, found as a package wherever the program is installed."""
