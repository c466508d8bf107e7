"""What a name says against a kind: a part of a thing is not the thing, and some words mean another thing altogether.

A generator cover is no second generator, a paper towel dries nobody, a space heater warms no water. Taking one for
the other would invent readiness, so such a name is left to a person, with the kind it resembles named.
"""

import re
from collections.abc import Callable, Set

# heads of names that are a part of something, go with it, or only share a word with it
PARTS = frozenset(
    {
        "adhesive", "bracket", "cap", "cart", "cartridge", "case", "chair", "charger", "chock", "cover", "dolly",
        "filter", "float", "funnel", "handle", "head", "hitch", "holder", "hook", "instruction", "jack", "key",
        "label", "lid", "lock", "maintainer", "manual", "mount", "nozzle", "pin", "pole", "poster", "rack", "seat",
        "shelf", "sleeve", "spout", "stool", "switch", "tire", "tool", "tyre", "wand", "wheel", "wheelchair", "wrench",
    }
)  # fmt: skip
# a size behind the name is not what it is called by: "shower shelter two lanes"
_UNITS = frozenset(
    {"ft", "foot", "feet", "lb", "gal", "gallon", "volt", "amp", "watt", "kw", "psi", "gpm", "hp", "inch", "lane"}
)
# kind -> (words that speak against it, words that overrule them)
_AGAINST: dict[str, tuple[frozenset[str], frozenset[str]]] = {
    kind: (frozenset(against.split()), frozenset(unless.split()))
    for kind, against, unless in (
        ("shelter", "command canopy rehab warming warm triage treatment medical morgue pop", "shower decon"),
        ("heater", "space tent shelter air room forced kerosene block cup food", "water shower tankless boiler demand"),
        ("regulator", "water shower distribution hydrant sprinkler", "propane gas lp"),
        ("bladder", "potable fresh drinking supply", "waste"),
        ("battery", "aa aaa alkaline radio flashlight headlamp button phone tool", "agm gel lead deep marine"),
        ("air_cylinder", "oxygen nitrogen helium acetylene argon calibration refrigerant extinguisher", ""),
        ("propane", "oxygen nitrogen helium acetylene argon calibration torch", ""),
        ("pump", "fuel foot bicycle bike breast vacuum grease", "sump waste grey"),
        ("hose_cold", "air propane gas vacuum hydraulic exhaust", "water garden clean"),
        ("generator", "fog foam smoke oxygen signal", ""),
        ("inflator", "leaf snow negative ventilation", ""),
        ("towel", "paper", "bath"),
        ("blanket", "fire welding", "foil wool"),
        ("berm", "wash hand sink dish", "containment collection spill"),
        ("cones", "duct electrical chem measuring masking teflon thread pipe packing", "barrier caution flagging cone"),
        ("cloth", "paint wire toilet", ""),
        ("cord", "bungee pull parachute jumper ethernet network usb tow", "extension"),
        ("radio", "weather clock", "portable"),
        ("suit", "wet dry bunker", "splash chemical protective"),
    )
}  # fmt: skip
_FIRST = re.compile(r"\s*(?:,|;|:|\(|\)|\[|\+|/(?=\s)| - |–|\b(?:with|w/|for|on|in|incl\w*|plus)(?=\s|\b))\s*", re.I)


def doubt(kind: str, name: str, words_of: Callable[[str], list[str]], own: Set[str], heads: Set[str]) -> float:
    """Return what is left of a kind's likeness to a name, 0 to 1: 1 where nothing speaks against it.

    Args:
        kind: key of the kind.
        name: as the register writes it.
        words_of: how names become words.
        own: the words of the kind's own phrases.
        heads: the last words of every kind's phrases, by which things are called.
    """
    said = {*words_of(name)}
    against, unless = _AGAINST.get(kind, (frozenset(), frozenset()))
    if said & against and not said & unless:
        return 0.2
    first = next((part for part in _FIRST.split(name) if words_of(part)), "")
    head = next((word for word in reversed(words_of(first)) if word not in _UNITS), "")
    if head in own:
        return 1.0
    # a tent heater is a heater of some sort, whatever the tent
    return 0.2 if head in PARTS else 0.3 if head in heads else 1.0
