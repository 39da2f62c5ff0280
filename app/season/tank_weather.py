"""When the weather of a day lets a tank be sprayed."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date as Date

import numpy as np
from numpy.typing import NDArray

from app.engine.doses import Dose
from app.engine.output import Statement
from app.engine.shared_tanks import SharedTanks
from app.season.forecast import Forecast, dates_of
from app.season.limits import Limits, limits_of, sprayed
from app.season.windows import DayAhead, day_ahead, window_of
from app.season.windows_output import WindowDay
from knowledge.base import KnowledgeBase
from knowledge.models import Turf


@dataclass
class Weather:
    """The hours of one day, asked for tank after tank.

    Attributes
    ----------
    forecast : Forecast or None
        None where no forecast was given: then nothing is barred, and nothing said of hours.
    work_from, work_to : int
        Local hours of the clock between which is sprayed.
    """

    forecast: Forecast | None
    date: Date
    work_from: int
    work_to: int
    _days: dict[str, WindowDay] = field(default_factory=dict)
    _ahead: list[DayAhead] = field(default_factory=list)

    @property
    def told(self) -> bool:
        """Whether the forecast tells hours of this day."""
        return self.forecast is not None and self.date in dates_of(self.forecast)

    def day(self, base: KnowledgeBase, limits: Limits) -> WindowDay | None:
        """The hours of the day under these limits, None where no hours are told."""
        if self.forecast is None or not self.told:
            return None
        key = limits.model_copy(update={"name": ""}).model_dump_json()
        if key not in self._days:
            if not self._ahead:
                self._ahead.append(day_ahead(base, self.forecast, self.date))
            self._days[key] = window_of(self._ahead[0], limits)
        return self._days[key]

    def barred(self, base: KnowledgeBase, tanks: SharedTanks) -> NDArray[np.bool_]:
        """Which tanks have no hour of work that is open or not known, array (tanks,)."""
        if not self.told:
            return np.zeros(len(tanks), dtype=bool)
        parts = [limits_of([sprayed(dose) for dose in part.stated]) for part in tanks.parts]
        hot = np.asarray([*(_or(one.max_temp_f, np.inf) for one in parts), np.inf])[tanks.rows].min(axis=1)
        dry = np.asarray([*(one.rainfast_hours for one in parts), 0.0])[tanks.rows].max(axis=1)
        cold = np.asarray([*(_coldest(one) for one in parts), -np.inf])[tanks.rows].max(axis=1)
        closed: dict[tuple[float, ...], bool] = {}
        found = np.zeros(len(tanks), dtype=bool)
        for place, pair in enumerate(zip(hot.tolist(), dry.tolist(), cold.tolist(), strict=True)):
            if pair not in closed:
                held = [parts[part] for part in tanks.rows[place] if part >= 0]
                closed[pair] = not self.workable(base, _together(held))
            found[place] = closed[pair]
        return found

    def workable(self, base: KnowledgeBase, limits: Limits) -> bool:
        """Whether any hour of work is open, or not known."""
        day = self.day(base, limits)
        if day is None:
            return True
        return any(h.state != "closed" for h in day.hours if self.work_from <= h.start.hour < self.work_to)

    def why(self, base: KnowledgeBase, tanks: SharedTanks, tank: int) -> tuple[Statement, ...]:
        """Why a tank has no open hour."""
        held = [dose for part in tanks.rows[tank] if part >= 0 for dose in tanks.parts[part].stated]
        return self.closed(base, limits_of([sprayed(dose) for dose in held]))

    def closed(self, base: KnowledgeBase, limits: Limits) -> tuple[Statement, ...]:
        """The reasons for which hours of work are closed, with when."""
        day = self.day(base, limits)
        if day is None:
            return ()
        found: dict[str, Statement] = {}
        for span in day.shut:
            if not self.work_from <= span.end.hour or not span.start.hour < self.work_to:
                continue
            for reason in span.reasons:
                if reason.severity == "caution" or reason.code in found:
                    continue
                text = f"{span.words}: {reason.text}"
                found[reason.code] = Statement(code=reason.code, text=text, sources=reason.sources)
        return tuple(found.values())


def tank_limits(doses: tuple[Dose, ...], turf: tuple[Turf, ...], site_use: str | None, name: str) -> Limits:
    """What a tank asks of the weather on these turfs."""
    return limits_of([sprayed(dose) for dose in doses], turf, site_use, name)


def _together(limits: list[Limits]) -> Limits:
    return Limits(air=tuple(a for one in limits for a in one.air), dry=tuple(d for one in limits for d in one.dry))


def _coldest(limits: Limits) -> float:
    """The highest floor of air temperature that stops [F]."""
    return max((a.min_f for a in limits.air if a.weight == "stop" and a.min_f is not None), default=-np.inf)


def _or(value: float | None, other: float) -> float:
    return value if value is not None else other
