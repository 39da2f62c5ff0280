"""What can be asked of several trials together: the weeds and treatments that kept trials of plots hold."""

from __future__ import annotations

from dataclasses import dataclass

from app.services.knowledge_service import knowledge_base
from app.services.trials import every_trial
from app.store.names import name_key
from app.store.opening import Store
from app.trials.analysis import weed_name


@dataclass(frozen=True)
class Pooling:
    """Weeds by id with their names, and the treatments that were rated on each; the check apart."""

    weeds: dict[str, str]
    treatments: dict[str, tuple[str, ...]]


def pooling(store: Store) -> Pooling:
    """What the kept trials of plots hold, in alphabetical order."""
    base = knowledge_base()
    held: dict[str, dict[str, str]] = {}
    for trial in every_trial(store):
        if trial.kind == "plots":
            for weed in trial.weeds:
                named = {name_key(item.name): item.name for item in trial.treatments if not item.is_check}
                held[weed] = {**named, **held.get(weed, {})}
    weeds = dict(sorted(((weed, weed_name(base, weed)) for weed in held), key=lambda item: item[1].casefold()))
    return Pooling(weeds, {weed: tuple(held[weed][key] for key in sorted(held[weed])) for weed in weeds})
