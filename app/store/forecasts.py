"""Forecasts and measured temperatures in the store."""

from __future__ import annotations

from app.store.models import ForecastRow
from app.store.named import Named

FORECASTS = Named("forecast", ForecastRow)
