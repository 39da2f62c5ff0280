"""An invented branch: its data, and the simulators of its trials and of what it serves; a package, so that it is found once installed."""
