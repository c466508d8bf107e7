"""What a register says of condition and state, in the words of 2 CFR 200 forms and of the item states.

In use means in service. Only the register's own plain words take a thing out of that: nothing is guessed from "poor".
"""

import re

_CONDITIONS = (
    (re.compile(r"\b(?:scrap|junk|beyond repair|condemned|unserviceable)\b", re.I), "scrap"),
    (re.compile(r"\bsalvage\b", re.I), "salvage"),
    (
        re.compile(
            r"\b(?:poor|bad|repair\w*|broken|damaged|leak\w*|inop\w*|not working|needs? \w+|defective|oos|"
            r"out of service)\b",
            re.I,
        ),
        "repairable",
    ),
    (re.compile(r"\b(?:new|unused|excellent|exc|unopened|boxed|in box|mint)\b", re.I), "new"),
    (
        re.compile(
            r"\b(?:good|fair|ok|okay|usable|used|serviceable|working|functional|operational|ready|"
            r"satisfactory|sat|worn|average|active|in service)\b",
            re.I,
        ),
        "usable",
    ),
)
_BOXED = re.compile(
    r"\b(?:boxed|unopened|un-?boxed? not|in (?:the |its |original )?(?:box|crate|packag\w+|shrink ?wrap)|"
    r"not (?:yet )?accepted|never opened|"
    r"still in (?:box|crate)|crated|sealed in box|awaiting acceptance|not (?:yet )?unpacked)\b",
    re.I,
)
# (words, state event); read in the condition or status column, and the first two in notes too
_STATES = (
    (
        re.compile(
            r"\b(?:out of service|o\.?o\.?s\.?|do not use|red.?tag\w*|danger.?tag\w*|deadlined|dead.?lined|"
            r"inoperable|inop)\b",
            re.I,
        ),
        "taken out",
    ),
    (re.compile(r"\b(?:quarantin\w*|contaminated)\b", re.I), "quarantined"),
    (
        re.compile(
            r"\b(?:broken|not working|does not work|won'?t (?:start|run|hold|light)|unserviceable|defective|"
            r"failed)\b",
            re.I,
        ),
        "taken out",
    ),
    (re.compile(r"\bcondemned\b", re.I), "condemned"),
    (re.compile(r"\b(?:disposed|surplus(?:ed)?|retired|auctioned|sold|scrapped|disposed of)\b", re.I), "disposed"),
    (re.compile(r"\b(?:on loan|loaned|lent|loaned out)\b", re.I), "lent"),
    (re.compile(r"\b(?:packed wet|wet|damp)\b", re.I), "wet"),
    (re.compile(r"\bdrying\b", re.I), "drying"),
)
_GONE = re.compile(r"\b(?:missing|lost|stolen|cannot (?:be )?(?:found|locate\w*)|not found|unaccounted)\b", re.I)
_MAYBE = re.compile(r"\?")
BORROWED = re.compile(r"\b(?:borrow\w*|loan\w*|lent)\b", re.I)
_NOT = re.compile(r"\b(?:not|no longer|was|previously|formerly|un)\s+$", re.I)


_LETTERS = {"n": "new", "e": "new", "g": "usable", "f": "usable", "p": "repairable"}


def condition_of(text: str) -> str:
    """Return new, usable, repairable, salvage or scrap; unknown where the words say none of them."""
    if (letter := text.strip(" .").lower()) in _LETTERS:
        return _LETTERS[letter]
    return next((word for pattern, word in _CONDITIONS if pattern.search(text)), "unknown")


def state_said(condition: str, note: str) -> tuple[str, str]:
    """Return (state event, the words that say so) from a condition and a note; ("", "") for in service.

    A note with a question mark is a doubt, not a statement; it becomes a finding elsewhere.
    """
    for text in (condition, note):
        if (match := _BOXED.search(text)) and not _MAYBE.search(text):
            return "boxed", match.group()
    for pattern, event in _STATES:
        if (match := pattern.search(condition)) and not _negated(condition, match):
            return event, match.group()
    for pattern, event in _STATES[:2]:
        if not _MAYBE.search(note) and (match := pattern.search(note)) and not _negated(note, match):
            return event, match.group()
    return "", ""


def is_gone(condition: str, note: str) -> bool:
    """Return whether the register says the thing is not there."""
    return bool(_GONE.search(condition)) or (bool(_GONE.search(note)) and not _MAYBE.search(note) and len(note) < 30)


def _negated(text: str, match: re.Match[str]) -> bool:
    return bool(_NOT.search(text[: match.start()]))
