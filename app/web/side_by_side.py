"""Side by side: what sets two to four products or mixtures apart."""

from __future__ import annotations

from flask import Blueprint

blueprint = Blueprint("side_by_side", __name__)
