"""Pictures of what trials say, fit to stand alone on a slide."""

from app.trials.pictures.bars import bars
from app.trials.pictures.course import course
from app.trials.pictures.dose import dose
from app.trials.pictures.forest import forest
from app.trials.pictures.picture import Picture

__all__ = ["Picture", "bars", "course", "dose", "forest"]
