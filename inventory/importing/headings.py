"""How registers head their columns: the words for each thing a column can hold, and how well a heading fits.

A heading is compared as a set of words after common abbreviations are spelt out, so "Dt of Mfr", "MFR DATE" and
"Date made" are one. Content (see ``content``) has a say beside the heading; neither decides alone.
"""

import re
from difflib import SequenceMatcher
from functools import lru_cache

_SPELT = {
    "#": "number", "no": "number", "num": "number", "nbr": "number", "nr": "number", "nos": "number", "dt": "date",
    "mfg": "mfr", "mfd": "mfr", "manuf": "mfr", "manufacture": "mfr", "manufactured": "mfr", "manufacturer": "mfr",
    "manufacturing": "mfr", "maker": "mfr", "makers": "mfr", "manufacturers": "mfr", "acq": "acquired",
    "acquisition": "acquired", "acqd": "acquired", "purch": "purchase", "purchased": "purchase", "bought": "purchase",
    "recd": "received", "rcvd": "received", "recvd": "received", "receipt": "received", "loc": "location",
    "locn": "location", "desc": "description", "descr": "description", "descrip": "description",
    "equip": "equipment", "eqpt": "equipment", "eqp": "equipment", "fed": "federal", "pct": "%", "percent": "%",
    "percentage": "%", "exp": "expires", "expiry": "expires", "expiration": "expires", "expire": "expires",
    "expiring": "expires", "expiresby": "expires", "qnty": "quantity", "qty": "quantity", "quan": "quantity",
    "oh": "onhand", "sn": "serial", "ser": "serial", "serno": "serial", "ea": "each", "amt": "amount",
    "cond": "condition", "stat": "status", "bldg": "building", "rm": "room", "stn": "station", "sta": "station",
    "spec": "specification", "specs": "specification", "specifications": "specification", "avg": "average",
    "curr": "current", "resp": "responsible", "auth": "authorized", "authorised": "authorized", "req": "required",
    "reqd": "required", "min": "minimum", "cert": "certified", "certification": "certified", "certs": "certified",
    "qual": "qualified", "quals": "qualified", "qualification": "qualified", "trng": "training", "inv": "inventory",
    "ident": "id", "identifier": "id", "remarks": "remark", "notes": "note", "comments": "comment", "wt": "weight",
    "prop": "property", "disp": "disposed", "disposal": "disposed", "disposition": "disposed", "outdt": "outdate",
    "po": "purchase", "unitcost": "cost", "ext": "extended", "pos": "position",
}  # fmt: skip

# role -> the headings registers use for it, in words spelt out
_SAID: dict[str, str] = {
    "tag": "number|item|equipment|unit|tag|tag number|tag id|id|item id|item number|equipment id|equipment number|"
    "unit number|unit id|inventory number|"
    "inventory id|control number|property number|property tag|property id|barcode|bar code|label|decal|"
    "decal number|reference|"
    "ref|code|item code|id tag|equipment tag|marking|marked|key|stock number|department id|ident number|tag code",
    "name": "item|description|item description|equipment|equipment description|nomenclature|article|name|"
    "item name|gear|product|"
    "what|contents|thing|object|material|component|device|equipment name|equipment type|item type|type|kind|"
    "description of item|"
    "equipment item|property description|description of property|noun|common name|commodity|supply|supplies|"
    "supply item|stock item",
    "serial": "serial|serial number|mfr serial|mfr serial number|vin|serial id|factory number|serial code|unit serial|"
    "serial number vin|equipment serial|equipment serial number",
    "quantity": "number|quantity|onhand|on hand|quantity onhand|quantity on hand|count|how many|units|pieces|pcs|each|"
    "amount|stock|"
    "balance|present|quantity present|current quantity|total quantity|number of units|number on hand|"
    "units on hand|in stock|"
    "counted|actual|actual quantity|have|held|quantity held|number onhand|quantity counted|qoh|quantity in stock",
    "spec": "size|specification|size specification|rating|capacity|detail|details|size rating|nameplate|"
    "data plate|plate|"
    "dimensions|technical|technical data|capacity size|characteristics|size capacity|plate data|"
    "specification size|ratings|"
    "specification details|nameplate data|technical specification|plate reading",
    "maker": "make|model|mfr|make model|brand|mfr model|vendor|supplier|model number|part number|make and model|"
    "mfr and model|"
    "catalog number|mfr name",
    "line": "line|decon line|home unit|home line|set|assigned line|team|corridor|package|assigned unit|belongs to|"
    "line assignment|apparatus|company|rig|deploys with|for line|parent|parent unit|unit assigned|line name|set name|"
    "deployment set|assignment|assigned to line|decon set|cache|cache name|unit",
    "place": "where kept|where|location|building room|room|building|stored|storage|storage location|kept|kept at|"
    "place|site|"
    "station|bay|housed|stored at|position|shelf|container|area|facility|house|physical location|current location|home|"
    "location bay|station bay|location of equipment|compartment|home location|stowed|stowage|where stored|"
    "storage area|bin|rack",
    "acquired": "date acquired|acquired|acquired date|purchase date|date purchase|purchase|date received|received|"
    "received date|"
    "in service date|date in service|in service|placed in service|date placed in service|delivery date|delivered|"
    "delivery|"
    "invoice date|date|date of purchase|order date|year purchase|year acquired|service date|purchase order date|"
    "date of acquired|"
    "purchase on|acquired on|received on|in service since|year|date bought",
    "made": "date of mfr|mfr date|date made|mfr|made|dom|build date|year built|production date|built|year of mfr|"
    "mfr year|"
    "date mfr|made on|mfr on|year made|date built",
    "cost": "amount|unit cost|cost|price|unit price|cost each|value|acquired cost|purchase price|purchase cost|"
    "amount paid|$|usd|$ each|"
    "each cost|each price|each|$ paid|unit value|cost per unit|acquired value|price each|original cost|unit $|cost $|"
    "paid|"
    "acquired price",
    "total_cost": "total cost|extended cost|total value|total|total price|line total|extended|extended price|total $",
    "share": "federal %|% federal|federal share|% federal share|federal % share|federal participation|grant %|"
    "cost share|"
    "federal fraction|% federal participation|federal part|federal participation %|federal|% grant|"
    "federal share %|federal funds %|participation|grant participation|grant share|federal cost share",
    "federal_amount": "federal share $|federal amount|federal $|federal cost|federal dollars|federal value|"
    "amount federal|grant amount|grant $|federal contribution",
    "award": "award|award number|grant|grant number|fain|grant id|award id|federal award|grant award|federal award id|"
    "grant award number|federal award number|grant name|award fain|federal award number fain|award grant",
    "funding": "funding|fund|funding source|source|source of funds|fund source|paid by|funded by|budget|account|"
    "source of funding|"
    "funds|paid from|funding program|money",
    "listing": "cfda|aln|assistance listing|cfda number|aln number|assistance listing number|listing",
    "condition": "condition|status|state|serviceability|shape|readiness|usable|operational status|condition code|"
    "service status|"
    "condition status|working",
    "note": "note|remark|comment|misc|memo|other|observations|other note|note remark|observation|miscellaneous|history",
    "custodian": "custodian|holder|responsible|poc|responsible person|assigned to|issued to|point of contact|"
    "owner|keeper|"
    "person responsible|contact|in charge|accountable|held by|assigned person|responsible party|hand receipt|"
    "hand receipt holder",
    "title": "title|title holder|ownership|title vested|property of|owned by|who holds title|title holder name|"
    "holder of title",
    "use": "use|usage|used for|purpose|use of equipment|use of property",
    "lot": "lot|lot number|batch|batch number|lot batch|lot code|lot id|batch code|lot batch number",
    "expires": "expires|expires date|date expires|use by|best by|good until|shelf life|discard after|use before|"
    "expires on|"
    "best before|expires end|shelf expires|date of expires|good through|out of date|outdates|discard by",
    "par": "par|par level|minimum|target|required|allowance|authorized|authorized quantity|should have|full load|"
    "maximum|"
    "required quantity|standard quantity|need|needed|quantity required|par quantity|quantity authorized|"
    "quantity needed|"
    "minimum stock|stock level|load quantity|should be|target quantity|minimum quantity|load list|to carry",
    "per_person": "per person|pp|each person|per patient|per head|uses per person|per casualty|quantity per person|"
    "per person use|used per person|per victim|use per person",
    "uom": "unit|unit of measure|uom|um|unit of issue|ui|issue|measure|u m|u i|units of measure|pack|pack size",
    "disposed_on": "disposed date|disposed on|disposed|date disposed|date of disposed|"
    "retired on|date retired|sold on|date sold|"
    "surplus date|surplused on|retired|removed on|date removed|out of inventory",
    "disposition": "disposed method|method of disposed|disposed status|disposed action|how disposed|disposed type",
    "row_number": "row|line number|number|seq|sequence|s number|sl number|position",
    # of a roster
    "person": "name|member|person|crew|employee|firefighter|crew member|member name|full name|staff|personnel|"
    "employee name|who|"
    "team member|operator|responder|last name first name|staff member",
    "first_name": "first name|first|given name",
    "last_name": "last name|last|surname|family name",
    "role": "role|rank|position|duty|job|title|function|assignment|grade|job title|post|crew role",
    "qualified": "qualified until since|qualified|certified|certified date|trained|training date|last training|"
    "last refresher|"
    "refresher|qualified date|date qualified|date certified|date trained|last trained|course date|drill date|"
    "last drill|"
    "refresher date|operator qualified|decon qualified|decon trained|hazmat operations|hazmat|decon operations",
    "qualified_until": "qualified until|certified until|certified expires|valid until|valid through|valid to|"
    "qualified through|"
    "expires|expires date|qualified expires|good until|certified through|current until|current through|due|"
    "refresher due|"
    "renewal|renewal due|renew by|valid thru|good through|good thru|certified good through|"
    "certified good thru|certified thru|"
    "hazmat operations expires|hazmat expires|training expires|license expires|next due|next refresher",
    "qualified_on": "qualified since|qualified on|certified since|certified on|since|trained on|completed|completed on|"
    "date completed|course completed|date of training|last qualified",
}
_ENDS = frozenset({"expires", "until", "through", "thru", "valid", "due", "renew", "renewal", "lapses"})
_HEADINGS: dict[str, dict[frozenset[str], str]] = {}

ITEM_ROLES = (
    "tag", "name", "serial", "quantity", "spec", "maker", "line", "place", "acquired", "made", "cost", "total_cost",
    "share", "federal_amount", "award", "funding", "listing", "condition", "note", "custodian", "title",
    "use", "lot", "expires", "par", "per_person", "uom", "disposed_on", "disposition", "row_number",
)  # fmt: skip
CREW_ROLES = (
    "person", "first_name", "last_name", "role", "qualified", "qualified_until", "qualified_on", "line", "note",
    "place",
)  # fmt: skip
# a plate figure in a column of its own: the heading says what it is, the cell how much
_PLATE_HEADING = re.compile(
    r"\b(?:t\.?w\.?|tare|w\.?c\.?|water capacity|lanes?|volts?|voltage|amps?|amperage|watts?|kw|btu\S*|hp|horse ?power|"
    r"gpm|flow|psi\w*|pressure|ah|amp hours?|gallons?|gal|length|width|hydro\w*|re-?qual\w*|re-?test\w*|set ?point|"
    r"awg|gauge|gvwr?|bore|diameter|thread|weight|fuel)\b",
    re.I,
)
# headings that say two things of one cell
_PAIRS = {
    frozenset({"maker", "serial"}): "maker_serial",
    frozenset({"line", "place"}): "line_place",
    frozenset({"share", "award"}): "funding",
    frozenset({"share", "funding"}): "funding",
    frozenset({"award", "funding"}): "funding",
    frozenset({"lot", "expires"}): "lot_expires",
    frozenset({"expires", "made"}): "expires_made",
    frozenset({"serial", "lot"}): "serial_lot",
    frozenset({"quantity", "uom"}): "quantity",
    frozenset({"name", "spec"}): "name",
    frozenset({"condition", "note"}): "condition_note",
}


@lru_cache(maxsize=4096)
def words_of_heading(heading: str) -> tuple[str, ...]:
    """Return a heading's words, abbreviations spelt out."""
    text = heading.lower().replace("s/n", " serial ").replace("o/h", " onhand ").replace("p/n", " part number ")
    text = re.sub(r"\bu/([mi])\b", r" u\1 ", text)
    text = re.sub(r"rec'd|rec’d", "received", text)
    text = re.sub(r"(?<=\b[a-z])\.(?=[a-z]\b)", "", text)  # d.o.m.
    text = re.sub(r"([#%$])", r" \1 ", text)
    words = re.findall(r"[a-z0-9]+|[#%$]", text)
    return tuple(_SPELT.get(word, word) for word in words)


def _said(role: str) -> dict[frozenset[str], str]:
    if role not in _HEADINGS:
        _HEADINGS[role] = {frozenset(words_of_heading(text)): text for text in _SAID[role].split("|")}
    return _HEADINGS[role]


@lru_cache(maxsize=8192)
def fit(heading: str, role: str) -> float:
    """Return how well a heading fits a role, 0 to 1: 1 where it is one of the role's own headings."""
    words = words_of_heading(heading)
    if not words or len(heading) > 60 or role not in _SAID:
        return 0.0
    whole = frozenset(words)
    said = _said(role)
    if whole in said:
        return 1.0
    if role in ("qualified", "qualified_on") and whole & _ENDS:
        return 0.0  # a day that heads an end is never a beginning, gone by or not
    inside = max((len(phrase) for phrase in said if phrase <= whole and phrase != frozenset({"number"})), default=0)
    best = 0.5 + 0.4 * inside / len(whole) if inside else 0.0
    if role == "qualified_until" and whole & _ENDS:
        best = max(best, 0.8)
    if role == "tag" and len(whole) == 2 and "number" in whole:
        best = max(best, 0.5)  # somebody's own word for the thing, and its number
    text = " ".join(words)
    if len(text) >= 4:
        for phrase in said.values():
            spelt = " ".join(words_of_heading(phrase))
            if abs(len(spelt) - len(text)) <= 3 and spelt[0] == text[0]:
                likeness = SequenceMatcher(None, text, spelt).ratio()
                best = max(best, 0.85 * likeness if likeness >= 0.84 else 0.0)
    return best


def paired(heading: str) -> str:
    """Return the role of a heading that says two things ("Make/serial"), or ""."""
    parts = [p for p in re.split(r"\s*(?:/|&|\+|\band\b|,|;| - |\()\s*", heading.strip(" )"), flags=re.I) if p]
    if len(parts) != 2 or max((fit(heading, r) for r in ITEM_ROLES), default=0.0) == 1.0:
        return ""
    best = [max(ITEM_ROLES, key=lambda r, part=part: fit(part, r)) for part in parts]
    if all(fit(part, role) >= 0.8 for part, role in zip(parts, best, strict=True)):
        return _PAIRS.get(frozenset(best), "")
    return ""


def is_plate_heading(heading: str) -> bool:
    """Return whether a column holds one figure of the plate, such as "TW (lb)" or "Last hydro"."""
    return bool(_PLATE_HEADING.search(heading)) and len(heading) <= 40 and len(heading.split()) <= 4


def best_fit(heading: str, roles: tuple[str, ...]) -> float:
    """Return how well a heading fits whichever role it fits best."""
    return max((fit(heading, role) for role in roles), default=0.0)
