"""The shelf: the user's own products, as read from their labels."""

from __future__ import annotations

from flask import Blueprint

blueprint = Blueprint("shelf", __name__)
