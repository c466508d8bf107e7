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
            r"\b(?:out of (?:service|svc|serv)|o\.?o\.?s\.?|do not use|red.?tag\w*|"
            r"danger.?tag\w*|deadlined|dead.?lined|"
            r"inoperable|inop|not (?:currently )?(?:in service|serviceable|usable|operational|ready))\b",
            re.I,
        ),
        "taken out",
    ),
    (re.compile(r"\b(?:quarantin\w*|contaminated)\b", re.I), "quarantined"),
    (
        re.compile(
            r"\b(?:broken|unsvc\w*|unsat\w*|u/s|non-?(?:operational|functional)|not working|"
            r"does not work|won'?t (?:start|run|hold|light)|unserviceable|defective|"
            r"failed|(?:out|sent out|sent|away|gone|waiting|back) for (?:repairs?|service)|"
            r"awaiting (?:repairs?|parts|service)|"
            r"(?:at|in) (?:the )?(?:repairs?(?: shop)?|(?:repair )?shop|vendor|maker)|(?:waiting|on) for parts)\b",
            re.I,
        ),
        "taken out",
    ),
    (re.compile(r"\bcondemned\b", re.I), "condemned"),
    (re.compile(r"\b(?:disposed|surplus(?:ed)?|retired|auctioned|sold|scrapped|disposed of)\b", re.I), "disposed"),
    (re.compile(r"\b(?:on loan|loan(?:ed|er)?|lent|borrowed by)\b", re.I), "lent"),
    (re.compile(r"\b(?:packed wet|wet|damp)\b", re.I), "wet"),
    (re.compile(r"\bdrying\b", re.I), "drying"),
)
# where it went, said outright: "on loan to Station 4" in a note is a statement, "borrowed 2024?" a doubt
_LENT_TO = re.compile(r"\b(?:on loan|loaned|lent)(?: out)? (?:to|with|at)\b", re.I)
_BACK = re.compile(r"\b(?:returned|back|was|previously|until)\b", re.I)
_GONE = re.compile(r"\b(?:missing|lost|stolen|cannot (?:be )?(?:found|locate\w*)|not found|unaccounted)\b", re.I)
_MAYBE = re.compile(r"\?")
BORROWED = re.compile(r"\b(?:borrow\w*|loan\w*|lent)\b", re.I)
_OF_HEADINGS = frozenset({"taken out", "quarantined", "condemned", "disposed", "lent"})
_FILLERS = frozenset(
    {"items", "item", "equipment", "gear", "of", "and", "list", "the", "out", "old", "all", "things", "property"}
)
_NOT = re.compile(r"\b(?:not|no longer|was|previously|formerly|un)\s+$", re.I)


# S and U stay unknown: salvage and usable on one form, serviceable and unserviceable on another
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
    if (match := _LENT_TO.search(note)) and not _MAYBE.search(note) and not _BACK.search(note):
        return "lent", match.group()
    return "", ""


def state_of_place(text: str) -> tuple[str, str]:
    """Return (state event, words) where the place a thing is kept at says that it is not here: lent, or at a shop."""
    event, words = state_said(text, "")
    return (event, words) if event == "lent" or (event == "taken out" and "repair" in text.lower()) else ("", "")


def state_of_heading(text: str) -> tuple[str, str]:
    """Return (state event, words) where a tab or section is of things in a state: "Disposed 2023", "Out of service".

    A heading of more words than that is a place or a chapter: a wet-gear room holds what is dry.
    """
    for pattern, event in _STATES:
        if event in _OF_HEADINGS and (match := pattern.search(text)) and not _negated(text, match):
            others = re.findall(r"[A-Za-z]+", text[: match.start()] + text[match.end() :])
            if all(word.lower() in _FILLERS for word in others):
                return event, match.group()
    return "", ""


def is_gone(condition: str, note: str) -> bool:
    """Return whether the register says the thing is not there."""
    return bool(_GONE.search(condition)) or (bool(_GONE.search(note)) and not _MAYBE.search(note) and len(note) < 30)


def _negated(text: str, match: re.Match[str]) -> bool:
    return bool(_NOT.search(text[: match.start()]))
