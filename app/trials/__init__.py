"""Trials: from plot ratings to an honest claim; pure functions over a trial as it was read."""
