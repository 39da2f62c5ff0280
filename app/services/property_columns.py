"""The columns of a file of properties and of one of scouting notes, with the headings that mean them."""

from __future__ import annotations

import re

from app.services.csv_columns import Headings, plain_heading

# Fields of a property, in the order in which they are written.
OF_CUSTOMER = {
    "customer_address": "address",
    "customer_phone": "phone",
    "customer_email": "email",
    "customer_notes": "notes",
}
OF_PROPERTY = {
    "address": "address",
    "zone": "zone",
    "technician": "technician",
    "latitude": "latitude",
    "longitude": "longitude",
    "ended": "ended",
    "property_notes": "notes",
    "plans": "plans",
    "local_rules": "local_rules",
}
OF_AREA = {
    "area_id": "id",
    "turf": "turf",
    "size": "area",
    "site_use": "site_use",
    "slope": "slope",
    "surroundings": "surroundings",
    "mowing_height": "mowing_height_in",
    "irrigation": "irrigation",
    "stand": "stand",
    "emerged": "emerged",
    "green_up": "green_up",
    "stress": "stress",
    "area_notes": "notes",
}
PROPERTY_HEADINGS: dict[str, tuple[str, ...]] = {
    "property": ("propertyname", "site", "sitename", "account", "accountname", "lawn", "job", "jobname", "location"),
    "customer": ("customername", "client", "clientname", "billto", "owner", "company"),
    "customer_address": ("billingaddress", "clientaddress", "mailingaddress"),
    "customer_phone": ("phone", "phonenumber", "telephone", "mobile", "cell"),
    "customer_email": ("email", "emailaddress"),
    "customer_notes": ("clientnotes", "billingnotes"),
    "address": ("serviceaddress", "propertyaddress", "siteaddress", "street", "streetaddress", "streetandnumber"),
    "zone": ("turfzone", "climatezone", "adaptationzone"),
    "technician": ("tech", "route", "technicianname", "assignedto", "crew", "operator", "applicator"),
    "latitude": ("lat", "gpslat"),
    "longitude": ("lon", "lng", "long", "gpslon"),
    "ended": ("serviceended", "enddate", "cancelled", "canceled", "cancelledon", "serviceendedon"),
    "property_notes": ("sitenotes", "accountnotes", "gatecode", "servicenotes"),
    "plans": ("plan", "planned"),
    "local_rules": ("localrule", "rules", "bans", "barred"),
    "area": ("areaname", "section", "lawnarea", "part", "field", "zonename", "areadescription"),
    "area_id": (),
    "turf": ("turfgrass", "grass", "grasstype", "turftype", "turfspecies", "grassspecies", "species"),
    "size": (
        *("areasize", "turfsize", "lawnsize", "turfarea", "lawnsqft", "turfsqft", "sqft", "squarefeet"),
        *("squarefootage", "areasqft", "sizesqft", "sizeft2", "sqfootage", "turfsquarefeet", "acres", "acreage"),
        *("sizeacres", "squaremeters", "squaremetres", "sqm", "m2", "sizem2", "hectares", "sizeha"),
    ),
    "unit": ("sizeunit", "areaunit", "units", "unitofsize"),
    "site_use": ("use", "siteuse", "sitetype", "turfuse", "propertytype", "lawntype", "useoftheturf"),
    "slope": ("grade", "gradient"),
    "surroundings": ("near", "nearby", "sensitiveareas", "whatstandsnear"),
    "mowing_height": ("mowingheightin", "mowheight", "cutheight", "heightofcut", "hoc", "mowingheightinches",
                      "mowingheightcm", "cuttingheight", "heightofcutin", "heightofcutinches", "heightofcutcm",
                      "cutheightin"),
    "irrigation": ("irrigated", "watering", "sprinklers", "sprinklersystem"),
    "stand": ("turfstand", "standage"),
    "emerged": ("emergence", "emergencedate", "seedlingsup"),
    "green_up": ("greenup",),
    "stress": ("turfstress",),
    "area_notes": ("areacomments", "sectionnotes"),
}  # fmt: skip
NOTE_HEADINGS: dict[str, tuple[str, ...]] = {
    "property": PROPERTY_HEADINGS["property"],
    "area": PROPERTY_HEADINGS["area"],
    "weed": ("weedname", "weedspecies", "species", "target", "pest"),
    "stage": ("weedstage", "growthstage"),
    "tillers": ("tillercount", "tillernumber"),
    "leaves": ("leafcount", "leafnumber"),
    "cover_pct": ("cover", "weedcover", "percentcover", "coverpercent", "pctcover", "weedcoverpct"),
    "date": ("day", "seen", "seenon", "scouted", "scoutedon", "datescouted", "dateseen", "visited"),
    "by": ("seenby", "scoutedby", "scout", "who", "technician", "tech"),
    "priority": ("weight",),
    "resistant_to": ("resistant", "resistance"),
    "note": ("notes", "text", "comment", "comments", "remark", "remarks"),
    "closed": ("closedon", "gone", "goneon"),
    "key": ("noteid", "noteid", "id"),
}
PROPERTIES = Headings("a file of properties", PROPERTY_HEADINGS, ("property",), {"property": ("address",)})
NOTES = Headings("a file of scouting notes", NOTE_HEADINGS, ("property", "weed", "date"), {})
# What a heading says of the unit of its figures.
_UNITS = (("sqft|squaref|ft2|sqfootage", "ft2"), ("acre", "acre"), ("sqm|squarem|m2", "m2"), ("hectare|ha$", "ha"))
_HEIGHTS = (("cm$|centimet", "cm"), ("mm$|millimet", "mm"), ("in$|inch", "in"))


def unit_in(heading: str) -> str:
    """The unit of area that a heading names; nothing where it names none.

    >>> unit_in("Lawn (sq. ft.)"), unit_in("Size")
    ('ft2', '')
    """
    return next((unit for words, unit in _UNITS if re.search(words, plain_heading(heading))), "")


def height_unit_in(heading: str) -> str:
    """The unit of height that a heading names; nothing where it names none."""
    return next((unit for words, unit in _HEIGHTS if re.search(words, plain_heading(heading))), "")
