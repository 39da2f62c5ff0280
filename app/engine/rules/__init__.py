"""Stops and cautions: importing this package registers every rule."""

from app.engine.rules import label, limits, place, tank, turf, weather
from app.engine.rules.registry import Finding, Question, RegisteredRule, ask, registered

__all__ = [
    "Finding",
    "Question",
    "RegisteredRule",
    "ask",
    "label",
    "limits",
    "place",
    "registered",
    "tank",
    "turf",
    "weather",
]
