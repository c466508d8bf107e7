"""The words of registers of checks: what a column is headed, which check a name means, which reading a heading means.

Pure and without a department: what depends on one (its tags, the kinds of its items) is asked of the caller.
"""

import re
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from inspections.entry import folded
from inventory.importing.cells import text_of
from shared.units import OWN_WORDS

_DONE = r"(?:done|tested|checked|inspected|performed|completed|carried out|taken|made|recorded|read|signed|entered)"
_CHECK = r"(?:check|test|inspection|procedure|activity|task|event|service|action)"
# role -> what heads it, compared in lower case without marks; a heading that fits two roles is the first's
_HEADED: Mapping[str, re.Pattern[str]] = {
    role: re.compile(pattern)
    for role, pattern in {
        "date": rf"(?:date|day|when|dt)(?: (?:of (?:the )?{_CHECK}|{_DONE}(?: on)?))?|"
        rf"(?:{_CHECK}|reading) (?:date|day)|"
        rf"{_DONE}(?: on)?|{_DONE} date",
        "by": rf"(?:{_DONE} )?by(?: whom)?|who(?: did it)?|(?:name|initials) of (?:inspector|tester)|name|"
        r"(?:inspector|tester|technician|tech|operator|member|person|firefighter|initials|signature|staff)(?: name)?|"
        r"signed",
        "tag": r"(?:(?:item|equip|equipment|unit|gear|device|inventory|property|asset) )?"
        r"(?:tag|id|number|no|nbr)(?: (?:no|number|id))?|item|unit|equip|equipment|gear|device|barcode|lot|lot number",
        "check": rf"{_CHECK}(?: (?:type|name|kind|{_DONE}))?|(?:type|kind|name) of {_CHECK}|type|what|what was done",
        "readings": r"readings?|values?|results?|measurements?|measured|data|outcome|pass fail|pass or fail|p f|"
        r"verdict|"
        r"(?:test )?results?",
        "remark": r"remarks?|notes?|comments?|observations?|remarks? notes?|notes? remarks?",
    }.items()
}
_NAMES_READING = re.compile(
    r"readings?|measurements?|parameters?|measured|what was (?:read|measured)|reading name|point"
)
_HOLDS_READING = re.compile(r"values?|readings?|results?|measured value|reading value")
_HOLDS_UNIT = re.compile(r"units?|unit of measure|uom")

OTHER_WORDS: Mapping[str, str] = {
    "used": "used", "use": "used", "usage": "used", "deployed": "used", "use log": "used", "uses": "used",
    "refill": "refilled", "refilled": "refilled", "fill": "refilled", "filled": "refilled", "refills": "refilled",
    "repair": "repair", "repaired": "repair", "fix": "repair", "fixed": "repair", "repairs": "repair",
    "repair log": "repair",
}  # fmt: skip
# words of a check's name that say when or that it was one, not which
_FILLERS = frozenset(
    {
        "test", "tests", "check", "checks", "checked", "inspection", "inspected", "run", "runs", "the", "a",
        "of", "daily", "weekly", "monthly", "quarterly", "annual", "yearly", "semi", "routine", "log",
        "functional", "function", "operational", "operation", "bench", "performance", "full",
    }
)  # fmt: skip
# what may be said of whatever a thing's own check is
_OF_ANY = frozenset(
    {
        "leak", "leaks", "pressure", "voltage", "output", "start", "started", "under", "load",
    }
)  # fmt: skip
_LOOKED = frozenset({"inspection", "inspected", "general inspection", "condition", "condition check", "walk around"})
# checks that look at a thing without being the one it is known by
_BESIDE = frozenset({"look", "count", "connect", "setup", "drypack"})

_UPKEEP: Mapping[str, re.Pattern[str]] = {
    "what": re.compile(r"what(?: was)?(?: (?:done|repaired|fixed|replaced))?|"
                       r"(?:work|repairs?|action)(?: (?:done|taken|made|performed))?|"
                       r"(?:description|parts?)(?: of (?:work|repair))?"),
    "cause": re.compile(r"(?:root )?cause(?: of (?:fault|failure))?"),
    "parts": re.compile(r"(?:parts|spares) (?:used|fitted|replaced)"),
    "vendor": re.compile(r"(?:vendor|contractor|repair shop)(?: name)?"),
    "cost": re.compile(r"(?:total |repair |parts )?costs?|price|\$|amount paid|invoice"),
    "hours": re.compile(r"(?:hours?|hrs?|h)(?: (?:used|run|of use|in use))?|(?:time|run) hours"),
    "to_lb": re.compile(r"to lb|(?:filled|refilled|fill) to(?: lb)?|lb(?: after)?|new weight(?: lb)?"),
}  # fmt: skip
_UNITS = {
    word: unit for unit, words in OWN_WORDS.items() for word in words if unit and len(word) > 1 or word in "fvahs"
}
_READING_FILLERS = frozenset(
    {
        "to", "the", "of", "at", "after", "reading", "time", "value", "measured", "temp", "temperature",
        "weight", "wt", "pressure", "how", "many", "number", "is", "was", "were", "it", "and", "observed",
        "taken", "test", "result",
    }
)  # fmt: skip
_SAME = {
    "in": "inlet", "out": "outlet", "held": "hold", "trip": "trips", "tripped": "trips", "leak": "leaks", "flow": "gpm",
    "found": "counted", "present": "counted", "qty": "counted", "quantity": "counted", "count": "counted",
    "leaking": "leaks", "drain": "drained", "light": "lit", "lights": "lit", "tare": "tare", "tw": "tare",
    "scale": "gross", "voltage": "ocv", "rested": "rest", "barometer": "b", "baro": "b", "monoxide": "co",
}  # fmt: skip
_SHORT = {"temperature": "temp", "pressure": "psi"}
_TURNS = (
    (
        re.compile(
            r"\b(?:initial|start(?:ing)?|beginning|first|before) (?:pressure|psi)\b|\bpressure (?:1|start|before)\b"
        ),
        "p1",
    ),
    (re.compile(r"\b(?:final|end(?:ing)?|last|second|after) (?:pressure|psi)\b|\bpressure (?:2|end|after)\b"), "p2"),
    (re.compile(r"\b(?:initial|start(?:ing)?|first|before) temp\w*\b|\btemp\w* (?:1|start|before)\b"), "t1"),
    (re.compile(r"\b(?:final|end(?:ing)?|last|second|after) temp\w*\b|\btemp\w* (?:2|end|after)\b"), "t2"),
)


def plain(text: Any) -> str:
    """Return a heading or a name as it is compared."""
    return " ".join(re.sub(r"[^a-z0-9%]+", " ", text_of(text).casefold()).split())


def roles_of(cells: Sequence[Any], *, named_tab: bool) -> dict[str, int]:
    """Return the column of each role that a row of headings has, roles and columns once each.

    Args:
        cells: the row.
        named_tab: the tab is called after a check, so a column "What was done" says what, not which check.
    """
    said = [plain(cell) for cell in cells]
    roles: dict[str, int] = {}
    names = next((i for i, s in enumerate(said) if _NAMES_READING.fullmatch(s)), None)
    holds = next((i for i, s in enumerate(said) if i != names and _HOLDS_READING.fullmatch(s)), None)
    if names is not None and holds is not None:
        # one reading to a row: its name in one column, its value in another
        roles |= {"reading name": names, "value": holds}
        unit = next((i for i, s in enumerate(said) if i > names and _HOLDS_UNIT.fullmatch(s)), None)
        if unit is not None:
            roles["value unit"] = unit
    for role, pattern in _HEADED.items():
        if role == "readings" and "value" in roles:
            continue
        for column, name in enumerate(said):
            free = column not in roles.values() and role not in roles
            if free and name and pattern.fullmatch(name) and not (named_tab and role == "check" and "what" in name):
                roles[role] = column
    return roles


def check_named(name: str, check_words: Mapping[str, str], of_kind: Collection[str] = ()) -> str:
    """Return the check a register's name for it means, or used, refilled, repair; "" for none.

    Args:
        name: as written.
        check_words: check key by every name registers give it.
        of_kind: the checks of the thing that was checked: among them a vaguer name is enough.
    """
    said = plain(name)
    if known := check_words.get(said) or OTHER_WORDS.get(said):
        return known
    if said in _LOOKED and "look" in of_kind:
        return "look"
    wanted = _stems(said) - _FILLERS
    own = [key for key in of_kind if key not in _BESIDE]
    own = [key for key in own if key != "gfci"] or own  # what has a plug has that check beside its own
    if not wanted or wanted <= _OF_ANY:
        return own[0] if said and len(own) == 1 and (wanted or {*said.split()} <= _FILLERS) else ""
    found: dict[str, float] = {}
    for words, key in check_words.items():
        stems = _stems(words) - _FILLERS
        if stems and (alike := len(stems & wanted) / len(stems | wanted)) >= 0.5:
            found[key] = max(found.get(key, 0.0), alike)
    found = {key: alike for key, alike in found.items() if key in of_kind} or found
    best = sorted(found, key=lambda key: -found[key])
    return best[0] if best and (len(best) == 1 or found[best[0]] > found[best[1]]) else ""


def upkeep_meant(heading: str) -> str:
    """Return which field of a use, refill or repair a heading means: what, cost, hours or to_lb; "" for none."""
    said = plain(heading)
    return next((key for key, pattern in _UPKEEP.items() if pattern.fullmatch(said)), "")


def _stems(text: str) -> set[str]:
    words = [_ENDS.sub("", word) if len(word) > 5 else word for word in text.split()]
    return {word[:-1] if len(word) > 4 and word.endswith("s") else word for word in words} - _FILLERS


_ENDS = re.compile(r"(?:ing|ion|ed|er|or|t|s)$")


def reading_meant(name: str, inputs: Sequence[Mapping[str, Any]]) -> Mapping[str, Any] | None:
    """Return the one input that a heading means: "Gross wt (lb)" is gross_lb, "Minutes held" hold_min; or None."""
    tokens, unit = _tokens(name)
    if not tokens:
        return None
    found = []
    for asked in inputs:
        if unit and asked.get("unit") and asked["unit"] != unit:
            continue
        keys = (asked["key"], *asked.get("aliases", ()), asked.get("label", ""))
        if any(tokens == _tokens(key, asked.get("unit", ""))[0] for key in keys):
            found.append(asked)
    return found[0] if len({asked["key"] for asked in found}) == 1 else None


def _tokens(name: str, own_unit: str = "") -> tuple[frozenset[str], str]:
    text = folded(name).replace("_", " ").replace("°", " ").replace("%", " % ")
    text = re.sub(r"\b\d+ ?(?:gal|min|lb|s|sec|seconds|minutes)\b", " ", text)
    text = " ".join(re.sub(r"[^a-z0-9%]+", " ", text).split())
    for pattern, turn in _TURNS:
        text = pattern.sub(turn, text)
    words = text.split()
    unit = own_unit
    for word in [*words]:
        # the last word may be the unit, and so may a word for it anywhere: "seconds to fill", "minutes held"
        known = _UNITS.get(word)
        if known and (word == words[-1] or len(word) > 2) and len(words) > 1:
            words.remove(word)
            unit = unit or known
    kept = [_SAME.get(word, word) for word in words if word not in _READING_FILLERS]
    # "Temp F" and "Pressure" have no other word
    return frozenset(kept or [_SHORT.get(word, word) for word in words]), unit
