"""Words with one meaning each, shared by every room: layers, classes, answers, outcomes.

They are the words of the user's files, so they are spelt as there. Plain data; imports nothing.
"""

from __future__ import annotations

AREA_LAYERS = ("habitat", "parcels", "excluded", "protected", "permit_area")
"""Standard layers that hold polygons only."""

MIXED_LAYERS = ("dwellings", "peopled_places", "roads", "railways", "barriers", "water")
"""Standard layers that may mix points, lines and polygons."""

RASTER_LAYERS = ("cover", "elevation")
"""Standard layers that are rasters."""

FEATURE_LAYERS = ("habitat", *MIXED_LAYERS, "parcels", "excluded", "protected", "permit_area")
"""Standard layers that hold features."""

STANDARD_LAYERS = (*FEATURE_LAYERS, *RASTER_LAYERS)
"""Every layer that Tussock knows without being told; users add their own."""

NATURAL_CLASSES = ("forest", "woodland", "shrubland", "grassland", "wetland", "rock", "bare")
"""Habitat classes of natural ground."""

HABITAT_CLASSES = (*NATURAL_CLASSES, "cropland", "garden", "built", "water")
"""Every habitat class that a polygon may have."""

ALIKE = 0.85
"""From this share of like letters on (difflib's ratio) two different names may be one with a slip of the
pen: no two of the shipped profiles reach 0.77, a letter left out of a name gives 0.94 or more."""

COMMON_NAME_WORDS = frozenset(
    (
        "adder", "anaconda", "asp", "blacksnake", "boa", "boomslang", "bullsnake", "bushmaster",
        "cobra", "coachwhip", "copperhead", "cottonmouth", "diamondback", "dugite", "habu", "keelback",
        "kingsnake", "krait", "mamba", "milksnake", "moccasin", "mulga", "python", "racer", "ratsnake",
        "rattler", "rattlesnake", "rinkhals", "sidewinder", "snake", "taipan", "viper", "whipsnake",
    )
)  # fmt: skip
"""Words of common names of snakes in English (from memory). Written like a scientific name, such as
"Eastern brown snake", they would pass for one that covers no animal: a list of it would forbid nothing."""

UNMAPPED = "unmapped"
"""What ground in no habitat polygon is called; no polygon may claim it."""

ROAD_CLASSES = (
    "motorway",
    "trunk",
    "primary",
    "secondary",
    "tertiary",
    "residential",
    "unclassified",
    "service",
    "track",
    "path",
)
"""Classes of the roads layer, the largest first (values of OpenStreetMap's ``highway`` key)."""

UNKNOWN = "unknown"
"""The answer of someone who does not know; never taken for a good one."""

DANGERS = ("harmless", "mildly_venomous", "dangerously_venomous", "constrictor_large")
"""Danger classes of a species."""

IDENTIFICATIONS = ("certain", "probable", UNKNOWN)
"""How sure the species is."""

ORIGINS = ("wild_local", "possible_escapee", "brought_in", "exotic", UNKNOWN)
"""Where the animal comes from."""

ANIMAL_CONDITIONS = ("fit", "injured", "sick", "dead")
"""The state the animal is in (column ``animalCondition``)."""

LIFE_STAGES = ("egg", "neonate", "juvenile", "subadult", "adult", UNKNOWN)
"""Column ``lifeStage``."""

GRAVID = ("yes", "no", UNKNOWN)
"""Whether she carries young (column ``gravid``)."""

FOUND_IN = ("building", "yard", "road", "water", "trap_or_netting", "vehicle", "other")
"""Where the animal was found (column ``foundIn``)."""

OUTCOMES = (
    "captured",
    "not_found",
    "gone_on_arrival",
    "left_in_place",
    "not_a_snake",
    "advice_only",
    "referred",
    "dead_on_arrival",
    "killed_before_arrival",
)
"""How a callout ends."""

DISPOSALS = ("released", "vet_or_carer", "authority", "euthanased", "died", "escaped")
"""How holding ends."""

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
"""As dates are written for people: January is the first."""
