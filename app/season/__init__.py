"""A place through time: its areas and weeds, the weather, the day's round, and what was applied. Pure."""
