"""What is on offer: doses of generic actives and standard mixtures, or the products of a catalog."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from app.engine.doses import Dose, mixture_doses, product_doses, single_doses
from app.engine.understood import Understood
from knowledge.base import KnowledgeBase

_USUAL_ADJUVANTS = ("none", "nis", "mso", "coc")


def offered(base: KnowledgeBase, understood: Understood) -> tuple[list[Dose], list[tuple[str, tuple[int, ...]]]]:
    """Doses on offer, and what holds several of them: its name and the places of its doses.

    Of generic actives those are the standard mixtures; of products every product at each of its
    rates, those of one active too.
    """
    doses: list[Dose] = []
    if understood.products is None:
        seen = set()
        for dose in single_doses(base, understood):
            if (dose.key, dose.level) not in seen:
                seen.add((dose.key, dose.level))
                doses.append(dose)
        groups = list(mixture_doses(base, understood))
    else:
        groups = [(offer.product.name, offer.doses) for offer in product_doses(base, understood, understood.products)]
    products: list[tuple[str, tuple[int, ...]]] = []
    for label, parts in groups:
        start = len(doses)
        doses.extend(parts)
        products.append((label, tuple(range(start, start + len(parts)))))
    return doses, products


def adjuvants_offered(understood: Understood) -> tuple[str, ...]:
    """Adjuvants to try; the first is none. Those that a label requires are tried beside the usual ones."""
    if not understood.situation.options.adjuvants:
        return ("none",)
    return tuple(dict.fromkeys((*_USUAL_ADJUVANTS, *_required_by_label(understood))))


def _required_by_label(understood: Understood) -> Iterator[str]:
    for product in understood.products or ():
        yield from (item.id for item in product.adjuvants if item.use == "required" and item.id != "none")


def required_by(dose: Dose) -> frozenset[str]:
    """Adjuvants of which the label of a dose's product requires one."""
    if dose.product is None:
        return frozenset()
    return frozenset(item.id for item in dose.product.product.adjuvants if item.use == "required")


def spread_dry(dose: Dose) -> bool:
    """Whether a granule delivers the dose: it goes into no tank, takes no adjuvant and needs no carrier."""
    return dose.product is not None and dose.product.product.granular


def product_names(doses: Sequence[Dose]) -> tuple[str, ...]:
    """Names of the products that deliver these doses, each once."""
    return tuple(dict.fromkeys(dose.product.product.name for dose in doses if dose.product is not None))
