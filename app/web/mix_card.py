"""The mix card: what goes into the tank, and the sprayers it is measured for."""

from __future__ import annotations

from flask import Blueprint

blueprint = Blueprint("mix_card", __name__)
