"""An invented branch: its data, and the simulator of its trials; a package, so that it is found once installed."""
