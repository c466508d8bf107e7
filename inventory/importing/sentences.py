"""Registers written as sentences, one thing or person to a row: "6 hoses 50', bought 3/2019, s/n 44, $45".

What a sentence says is taken apart into the columns a table would have; the sentence itself stays as the note, so
nothing of it is lost. Reading goes on from there as for any table.
"""

import re
from collections.abc import Callable, Sequence

from inventory.importing.cells import is_nothing, text_of
from inventory.importing.number_words import digits
from inventory.importing.sheets import Cell, Sheet

THING_ROLES = (
    "name", "tag", "quantity", "serial", "spec", "acquired", "cost", "share", "award", "lot", "expires", "place",
    "note",
)  # fmt: skip
PERSON_ROLES = ("person", "role", "qualified_until", "qualified_on", "line")
_DATE = (
    r"(\d{4}-\d{1,2}(?:-\d{1,2})?|\d{1,2}[/-]\d{1,2}[/-]\d{2,4}|\d{1,2}[/-]\d{4}|\d{1,2}\.\d{1,2}\.\d{4}|"
    r"[A-Za-z]{3,9}\.? \d{1,2},? \d{4}|\d{1,2} [A-Za-z]{3,9}\.? \d{2,4}|[A-Za-z]{3,9}\.?[ -]\d{2,4}|(?:19|20)\d{2})\b"
)
_UNIT = (
    r"(?:kw|kva|lbs?|pounds?|ft|foot|feet|in|inch(?:es)?|gal(?:lons?)?|lanes?|v|volts?|awg|ga|psig?|hp|gpm|w|watts?|btu|"
    r"amps?|a|ah|cu|scf|people|person|mm|cm|m|l|liters?|qt|oz|persons?|way|k|f|deg|%|x|yr|years?|mil)\b"
)
_BULLET = re.compile(r"^\s*(?:[-*•–·]+|\d{1,3}[.)]|\([a-z]\)|\[[ xX]?\])\s+")
_TAG = re.compile(r"^([A-Z]{1,4}\d{0,2}-\d{1,4}[A-Z]?|[A-Z]{2,3}\d{2,4})\s*[-:,.]?\s+(?=[A-Za-z\d])")
_LEADING = re.compile(
    rf"^\(?(\d{{1,4}})(?!\d)\)?\s*(?:x\s|ea\b\.?|each\b|pcs?\b\.?|pr\b\.?|sets? of\b|boxes of\b|×)?\s*[-–:]?\s*"
    rf"(?!{_UNIT})(?!['\"’”/.,%x×-])(?=[A-Za-z]|\d+\s*-?\s*{_UNIT}|\d+['’])",
    re.I,
)
_TRAILING = re.compile(
    r"\bqty\.?\s*[:=]?\s*(\d{1,4})\b|\bquantity\s*[:=]?\s*(\d{1,4})\b|(?:^|[\s,;(])[x×]\s*(\d{1,4})\b|"
    r"\b(\d{1,4})\s*(?:ea|each|pcs|pieces|on hand|units|present)\b\.?|\((\d{1,4})\)|"
    r"[:=]\s*(\d{1,4})$|\s[-–]\s*(\d{1,4})$",
    re.I,
)
_THING_PARTS: dict[str, re.Pattern[str]] = {
    "serial": re.compile(r"\b(?:s\s*/\s*n|sn|serial)\b\.?\s*(?:no\.?|number)?\s*[:#.]?\s*([A-Za-z0-9][\w./-]*)", re.I),
    "cost": re.compile(r"(\$\s?\d[\d,]*(?:\.\d+)?\s?k?)(?:\s*(?:each|ea)\b\.?)?", re.I),
    "share": re.compile(
        r"(\d{1,3}(?:\.\d+)?\s*%)\s*(?:fed\w*|grant)\b|\b(local(?:ly)?)\s+(?:funded|money|funds|paid)", re.I
    ),
    "award": re.compile(
        r"\b(?:award|grant|fain)\s*(?:no\.?|number|#)?\s*[:#]?\s*((?=[\w-]*\d)[A-Za-z0-9]+(?:-[A-Za-z0-9]+)+)", re.I
    ),
    "acquired": re.compile(
        r"\b(?:bought|purchased|acquired|received|rec'?d|delivered|in service since|acq\.?|purch\.?|got)"
        rf"\s*(?:in|on|:)?\s*{_DATE}",
        re.I,
    ),
    "expires": re.compile(rf"\b(?:exp(?:ir\w*)?|use by|best by|good (?:until|thru|through))\b\.?\s*:?\s*{_DATE}", re.I),
    "lot": re.compile(r"\b(?:lot|batch)\b\.?\s*(?:no\.?|number|#)?\s*[:#]?\s*((?=[\w-]*\d)[\w-]+)", re.I),
    "place": re.compile(
        r"(?:\b(?:kept|stored|stowed|located|is)\s+)?(?:\b(?:at|in|on)\b|@)\s+((?:the\s+)?(?:station|stn|sta|bay|bldg|"
        r"building|room|shelf|container|conex|compartment|cabinet|closet|garage|warehouse)\b[^;,()]{0,40})",
        re.I,
    ),
}  # fmt: skip
_TITLE = re.compile(r"\b(?:gear|list|inventory|cache|equipment|register|contents)\b", re.I)
_PLATE_BEGINS = re.compile(r"\s*(?:,(?!\d{3})|;)\s*|\s+(?=set\s+\d)|\s+\bt\.?w\.?\s*\d", re.I)
_UNTIL = re.compile(
    rf"[,;–-]?\s*\b(?:exp(?:ir\w*)?|until|thru|through|valid|good|due|renew\w*)\b[.:]*\s*"
    rf"(?:(?:on|to|until|thru|through)\s+)?{_DATE}",
    re.I,
)
_SINCE = re.compile(
    rf"[,;–-]?\s*\b(?:since|qual\w*|cert\w*|trained|refresher|passed)\b[.:]*\s*(?:(?:on|in|since)\s+)?{_DATE}", re.I
)
_ON_LINE = re.compile(r"[,;–-]?\s*\b((?i:line|set|team)\s+[A-Z0-9]{1,2})\b")


def quantity_in(name: str) -> int | None:
    """Return how many a name itself says there are: "6 hoses", "Hose 50 ft (6)", "two blowers"; None for none."""
    text = _BULLET.sub("", digits(" ".join(name.split())))
    if match := _LEADING.match(text):
        return int(match.group(1))
    match = _TRAILING.search(text)
    return int(next(g for g in match.groups() if g)) if match else None


def thing_in(sentence: str) -> dict[str, Cell]:
    """Return what a sentence about one thing says, by role; what is left of it is the name and the plate."""
    rest = _BULLET.sub("", " ".join(sentence.split()))
    said: dict[str, Cell] = {"note": " ".join(sentence.split())}
    if match := _TAG.match(rest):
        said["tag"], rest = match.group(1), rest[match.end() :]
    for role, pattern in _THING_PARTS.items():
        if match := pattern.search(rest):
            said[role] = next(g for g in match.groups() if g).strip(" .,;")
            rest = f"{rest[: match.start()]}, {rest[match.end() :]}"
    rest = digits(rest)
    for pattern in (_LEADING, _TRAILING):
        if match := pattern.search(rest):
            said["quantity"] = int(next(g for g in match.groups() if g))
            rest = f"{rest[: match.start()]} {rest[match.end() :]}"
            break
    rest = re.sub(r"\(\s*\)|(?:\s*[,;]\s*){2,}", ", ", rest).strip(" ,;.-–:")
    said["name"] = re.split(r"\s*(?:,(?!\d{3})|;)\s*|\s+(?=set\s+\d)|\s+\bt\.?w\.?\s*\d", rest, maxsplit=1, flags=re.I)[
        0
    ][:160]
    said["spec"] = rest
    return said


def person_in(sentence: str) -> dict[str, Cell]:
    """Return what a text says of one person: "Marlow (Hazmat tech) exp 2027-05"; it may be the name alone."""
    rest = " ".join(_BULLET.sub("", sentence).split())
    said: dict[str, Cell] = {}
    for role, pattern in (("qualified_until", _UNTIL), ("qualified_on", _SINCE), ("line", _ON_LINE)):
        if match := pattern.search(rest):
            said[role] = match.group(1)
            rest = rest[: match.start()] + rest[match.end() :]
    if match := re.search(r"\(([^()]*)\)|\[([^\[\]]*)\]", rest):
        said["role"] = (match.group(1) or match.group(2) or "").strip()
        rest = rest[: match.start()] + rest[match.end() :]
    elif len(parts := [p for p in re.split(r"\s+[-–:]\s*|\s*;\s*", rest, maxsplit=1) if p.strip()]) == 2:
        rest, said["role"] = parts
    said["person"] = rest.strip(" ,;.-–:")
    return {role: value for role, value in said.items() if value}


def is_person(sentence: str) -> bool:
    """Return whether a text reads as somebody with a qualification."""
    said = person_in(sentence)
    name = str(said.get("person", ""))
    named = bool(re.fullmatch(r"[A-Z][\w'’.-]+(?:,? [A-Z][\w'’.-]*){0,2}", name))
    return named and bool({"qualified_until", "qualified_on"} & said.keys())


def only_column(sheet: Sheet) -> int | None:
    """Return the one column that holds all there is of a sheet, or None."""
    rows = [[i for i, c in enumerate(row) if c is not None] for row in sheet.rows]
    filled = [row for row in rows if row]
    alone = [row[0] for row in filled if len(row) == 1]
    if len(filled) < 2 or len(alone) < 0.9 * len(filled):
        return None
    column = max(set(alone), key=alone.count)
    return column if alone.count(column) >= 0.9 * len(filled) else None


def taken_apart(
    sheet: Sheet, column: int, crew_tab: bool, names_kind: Callable[[str], float]
) -> tuple[str, tuple[str, ...], Sheet] | None:
    """Return (sort, roles of the columns, the sheet with its sentences in columns); None where they tell of no things.

    Rows keep their numbers. A heading or a remark between the things stays a lone text in the first column.
    """
    texts = [text_of(row[column]) if column < len(row) else "" for row in sheet.rows]
    said = [t for t in texts if not is_nothing(t)]
    people = sum(map(is_person, said))
    if people and (crew_tab or people >= 0.6 * len(said)):
        return "crew", PERSON_ROLES, _spread(sheet, texts, PERSON_ROLES, person_in, lambda text: True)
    if crew_tab:
        return None

    def is_thing(text: str) -> bool:
        said = thing_in(text)
        if _TITLE.search(text) and not {"quantity", "serial", "tag"} & said.keys():
            return False
        return names_kind(str(said["spec"])) >= 0.6 or "quantity" in said

    # a few words about other things name a kind here and there; a list of gear does so in most of its rows
    kinds = sum(names_kind(str(thing_in(t)["spec"])) >= 0.6 for t in said)
    if kinds < 2 or kinds < 0.5 * len(said):
        return None
    return "items", THING_ROLES, _spread(sheet, texts, THING_ROLES, thing_in, is_thing)


def _spread(
    sheet: Sheet,
    texts: Sequence[str],
    roles: Sequence[str],
    read: Callable[[str], dict[str, Cell]],
    wanted: Callable[[str], bool],
) -> Sheet:
    rows: list[list[Cell]] = []
    for text in texts:
        if not text:
            rows.append([])
        elif wanted(text):
            said = read(text)
            rows.append([said.get(role) for role in roles])
        else:
            rows.append([text])
    return Sheet(sheet.name, rows)
