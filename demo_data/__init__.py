"""An invented branch: its data and their simulators; a package, so that it is found once installed."""
