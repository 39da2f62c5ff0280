"""Frozen models of the facts, as read and checked from text."""

from knowledge.models.active import Active, AdjuvantRule, Form, Limit, TurfRate
from knowledge.models.common import (
    ALL_STAGES,
    SEASONS,
    SITE_USES,
    STAGES_BY_LIFE_FORM,
    SURROUNDINGS,
    ZONES,
    Citation,
    Figure,
    Sentence,
    Sourced,
    Span,
)
from knowledge.models.customer import CustomerSentence
from knowledge.models.growth import Growth
from knowledge.models.mixing import FormulationFact, Measures, MixStep
from knowledge.models.proposal import ProposalSentence
from knowledge.models.recorded import RecordField
from knowledge.models.result import PublishedResult
from knowledge.models.shared import (
    Adjuvant,
    Interaction,
    Mixture,
    MixtureRate,
    Notice,
    Parameter,
    Rule,
    ShiftFact,
    Site,
    Source,
    Surrounding,
    Trait,
    ZoneFact,
)
from knowledge.models.turf import SeedlingWindow, Tolerance, Turf
from knowledge.models.weed import Emergence, Response, StageWindow, Weed
from knowledge.models.year import Climate, DocumentedResistance, LikelyWeeds, MechanismUse

__all__ = [
    "ALL_STAGES",
    "SEASONS",
    "SITE_USES",
    "STAGES_BY_LIFE_FORM",
    "SURROUNDINGS",
    "ZONES",
    "Active",
    "Adjuvant",
    "AdjuvantRule",
    "Citation",
    "Climate",
    "CustomerSentence",
    "DocumentedResistance",
    "Emergence",
    "Figure",
    "Form",
    "FormulationFact",
    "Growth",
    "Interaction",
    "LikelyWeeds",
    "Limit",
    "Measures",
    "MechanismUse",
    "MixStep",
    "Mixture",
    "MixtureRate",
    "Notice",
    "Parameter",
    "ProposalSentence",
    "PublishedResult",
    "RecordField",
    "Response",
    "Rule",
    "SeedlingWindow",
    "Sentence",
    "ShiftFact",
    "Site",
    "Source",
    "StageWindow",
    "Sourced",
    "Span",
    "Surrounding",
    "Tolerance",
    "Trait",
    "Turf",
    "TurfRate",
    "Weed",
    "ZoneFact",
]
