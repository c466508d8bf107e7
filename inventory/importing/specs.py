"""What a plate says, out of free text: "100 lb; TW 68.0 lb; mfr 03-2019; requal 2023-06 E" as typed fields.

Each field of a kind has the ways registers write it, surest first. A field nobody wrote stays out: nothing is assumed
here. Numbers keep the unit of the plate (US customary), as the catalogue's ``spec_fields`` state it.
"""

import re
from collections.abc import Iterable, Mapping
from typing import Any

from inventory.importing.cells import CellError, parse_day, parse_number
from inventory.importing.number_words import digits

_N = r"(\d[\d,]*(?:\.\d+)?|\.\d+)"
_FRACTION = r"(\d+\s*-\s*\d+/\d+|\d+\s+\d+/\d+|\d+/\d+|\d*\.\d+|\d+)"
_FT = r"\s*(?:ft|feet|foot|['’′])"
_IN = r"\s*(?:in\b|inch(?:es)?|[\"”″])"
_LB = r"\s*(?:lbs?\b|pounds?|#)"
_GAL = r"\s*(?:gal(?:lons?|s)?\b|g\b)"
_V = r"\s*(?:v(?:olts?|ac|dc)?)\b"
_MONTH = (
    r"((?:\d{4}[-/]\d{1,2}|\d{1,2}[-/]\d{4}|\d{1,2}[-/]\d{1,2}[-/]\d{2,4}|[A-Za-z]{3,9}\.?[ -]+\d{4}|"
    r"\d{1,2}[-/]\d{2}(?![-/\d])))"
)
_LANES = {"one": 1, "single": 1, "two": 2, "dual": 2, "double": 2, "twin": 2, "three": 3, "triple": 3, "four": 4}

# key -> patterns, surest first; the first group is the value
_PATTERNS: dict[str, tuple[str, ...]] = {
    "lanes": (
        r"\b(\d|one|two|three|four|single|dual|double|twin|triple)[\s-]*lanes?\b",
        r"\blanes?\s*[:=]?\s*(\d|one|two|three|four)\b",
    ),
    "least_psi": (rf"\b(?:least|min(?:imum)?|holds? up at)[^\d;,]{{0,24}}{_N}\s*psig?\b",),
    "berm_gal": (rf"\bberm[^\d;,]{{0,16}}{_N}{_GAL}", rf"{_N}{_GAL}[^;,]{{0,10}}\bberm"),
    "length_ft": (
        rf"{_N}(?:{_FT})?\s*[x×]\s*\d",
        rf"{_N}{_FT}(?!\s*[x×])",
        rf"\blength[^\d;,]{{0,10}}{_N}\b",
    ),
    "width_ft": (rf"\d(?:{_FT})?\s*[x×]\s*{_N}(?:{_FT})?",),
    "amps": (rf"{_N}\s*(?:a|amps?|amperes?)\b(?!\s*h)",),
    "inlet_psi": (rf"{_N}\s*psig?\s*(?:in|inlet)\b", rf"\b(?:in|inlet)[^\d;,]{{0,8}}{_N}\s*psi"),
    "outlet_psi": (rf"{_N}\s*psig?\s*(?:out|outlet)\b", rf"\b(?:out|outlet)[^\d;,]{{0,8}}{_N}\s*psi"),
    "rated_psi": (rf"{_N}\s*psig?\b",),
    "free_air_ft3": (rf"{_N}\s*(?:cu\.?\s*ft|ft3|ft³|scf|cf|cubic f(?:ee|oo)t)",),
    "efficiency": (rf"\beff\w*[^\d;,]{{0,6}}{_N}\s*%", rf"{_N}\s*%\s*eff"),
    "nominal_lb": (rf"(?<!tw )(?<!wc )(?<!tare )\b{_N}{_LB}",),
    "tare_lb": (rf"\b(?:t\.?w\.?|tare(?:\s*w(?:eigh)?t)?)\s*[:=]?\s*{_N}", rf"{_N}{_LB}?\s*(?:tw|tare)\b"),
    "water_lb": (rf"\b(?:w\.?c\.?|water cap\w*)\s*[:=]?\s*{_N}", rf"{_N}{_LB}?\s*wc\b"),
    "min_inlet_psig": (
        rf"\bmin(?:imum)?\s*inlet[^\d;,]{{0,8}}{_N}\s*psi",
        rf"\binlet[^\d;,]{{0,12}}min\w*[^\d]{{0,4}}{_N}\s*psi",
    ),
    "gpm": (rf"{_N}\s*(?:gpm|gal(?:lons)?\s*/\s*min|gal(?:lons)? per min)",),
    "outlet_in": (
        rf"{_FRACTION}{_IN}\s*(?:outlet|valve|drain|port)",
        rf"\b(?:outlet|valve|drain|port)s?\s*{_FRACTION}{_IN}",
    ),
    "bore_in": (rf"(?<![x×\d])\b{_FRACTION}{_IN}",),
    "psi_drop": (rf"{_N}\s*psi\s*drop", rf"\bdrop[^\d;,]{{0,6}}{_N}\s*psi"),
    "ah": (rf"{_N}\s*a\.?h\b", rf"{_N}\s*amp[\s-]*hours?"),
    "weight_lb": (rf"{_N}{_LB}",),
    "tank_gal": (rf"{_N}{_GAL}[^;,]{{0,8}}\btank", rf"\btank[^\d;,]{{0,10}}{_N}{_GAL}", rf"{_N}{_GAL}"),
    "gph_full": (rf"{_N}\s*(?:gph|gal\s*/\s*h)",),
    "awg": (r"\b(\d{1,2})\s*-?\s*(?:awg|ga(?:uge)?)\b", r"\b(\d{1,2})\s*/\s*3\b"),
    "gvwr_lb": (rf"\bgvwr?[^\d;,]{{0,6}}{_N}", rf"{_N}{_LB}\s*gvwr?"),
    "gauge_psi": (rf"\bgauge[^\d;,]{{0,12}}{_N}\s*psi",),
    "scale_lb": (rf"\bscale[^\d;,]{{0,12}}{_N}\s*lb",),
    "therm_degF": (rf"\btherm\w*[^\d;,]{{0,12}}{_N}\s*°?\s*f\b",),
    "gal_each": (rf"{_N}{_GAL}", r"\b(gal)(?:lons?)?\b"),
    "ratio_pct": (rf"(?<![-–\d.])\b{_N}\s*%(?!\s*eff)",),
}
# what one key means depends on the kind it stands on
_OF_KIND: dict[tuple[str, str], tuple[str, ...]] = {
    ("shelter", "set_psi"): (
        rf"\bset[^\d;,]{{0,14}}{_N}\s*psi",
        rf"\b(?:operating|working|run)[^\d;,]{{0,14}}{_N}\s*psi",
    ),
    ("shelter", "relief_psi"): (rf"\b(?:relief|prv|pop[- ]?off)[^\d;,]{{0,14}}{_N}\s*psi",),
    ("relief_spare", "relief_psi"): (rf"{_N}\s*psi",),
    ("backflow", "set_psi"): (rf"{_N}\s*psi",),
    ("berm", "berm_gal"): (rf"{_N}{_GAL}",),
    ("heater", "set_degF"): (rf"\bset[^\d;,]{{0,14}}{_N}\s*°?\s*f\b", rf"{_N}\s*(?:°\s*f|deg\w*\s*f|f)\b"),
    ("mixing_valve", "set_degF"): (rf"{_N}\s*(?:°\s*f|deg\w*\s*f|f)\b", rf"\bset[^\d;,]{{0,14}}{_N}"),
    ("light_supply", "volts"): (rf"{_N}{_V}\s*(?:dc\s*)?out", rf"\bout[^\d;,]{{0,8}}{_N}{_V}", rf"{_N}{_V}"),
    ("bladder", "gal"): (rf"{_N}{_GAL}",),
}
_TEXTS: dict[str, tuple[tuple[str, str], ...]] = {
    "fuel": (
        (r"\bdiesel\b", "diesel"),
        (r"\bpropane\b|\blpg?\b", "propane"),
        (r"\bgas(?:oline)?\b|\bpetrol\b", "gasoline"),
    ),
    "chemistry": (
        (r"\bagm\b", "AGM"),
        (r"\bgel\b", "gel"),
        (r"\bli[- ]?(?:ion|fepo4)\b|\blithium\b", "lithium"),
        (r"\bflooded\b|\bwet cell\b|\blead[- ]acid\b", "flooded"),
    ),
    "thread": (
        (r"\bght\b|\bgarden hose thread\b", "GHT"),
        (r"\bcam(?:lock|\b)", "cam"),
        (r"\bnpsh\b", "NPSH"),
        (r"\bnpt\b", "NPT"),
        (r"\bn(?:h|st)\b", "NH"),
        (r"\bstorz\b", "storz"),
    ),
    "standard": ((r"\b(asse\s*\d{4})\b", ""),),
    "spec_mark": (
        (r"\b(?:dot|tc)?[\s/-]*((?:3AA|3AL|3HT|3A|4BW|4BA|4B|4E|4L|3E)\d*)\b", ""),
        (r"\b(?:dot|tc)?[\s-]*((?:e|sp)[\s-]?\d{4,5})\b", ""),
        (r"\bcomposite\b|\bcarbon\b", "composite"),
        (r"\balumin(?:i)?um\b", "3AL"),
        (r"\bsteel\b", "3AA"),
    ),
}
_MADE = re.compile(rf"\b(?:mfr|mfg|mfd|made|dom|born|manuf\w*|built)\.?\s*(?:date)?\s*[:=]?\s*{_MONTH}", re.I)
_REQUAL = re.compile(
    rf"\b(?:(?:last\s+)?(?:requal\w*|hydro\w*|re-?test\w*|"
    rf"re-?qual\w*))\.?\s*(?:date)?\s*[:=]?\s*{_MONTH}(?:\s*[-/]?\s*([ESR])\b)?",
    re.I,
)
_BTU = re.compile(r"(\d{1,3}(?:\.\d{3})+(?!\d)|\d[\d,]*(?:\.\d+)?)\s*(k|m)?\s*(btu\s*/?\s*(?:h|hr)?|btuh|mbh)\b", re.I)
_WATTS = re.compile(r"(\d[\d,]*(?:\.\d+)?)\s*(kw|kva|watts?|w)\b", re.I)
_HP = re.compile(r"(\d+\s*[- ]\s*\d+/\d+|\d+/\d+|\d*[.,]\d+|\d+)\s*(?:hp|horse)", re.I)
# beyond these a number was misread or mistyped: not stored, and found
_SANE: dict[str, tuple[float, float]] = {
    "lanes": (1, 8), "set_psi": (0.1, 200), "relief_psi": (0.1, 200), "length_ft": (1, 1000), "width_ft": (1, 200),
    "volts": (1, 600),
    "amps": (0.1, 400), "rated_psi": (100, 10_000), "inlet_psi": (1, 10_000), "outlet_psi": (0.1, 500),
    "free_air_ft3": (1, 1000),
    "input_btu_h": (5_000, 2_000_000), "set_degF": (50, 200), "nominal_lb": (1, 1000), "tare_lb": (1, 1000),
    "water_lb": (1, 3000),
    "gpm": (0.1, 2000), "hp": (0.05, 20), "gal": (0.1, 20_000), "berm_gal": (1, 5000), "watts": (1, 200_000),
    "ah": (0.5, 2000),
    "gvwr_lb": (500, 40_000), "awg": (2, 22), "tank_gal": (0.1, 200), "ratio_pct": (0.01, 20),
    "min_inlet_psig": (0, 250),
}  # fmt: skip
_SANE_DEFAULT = (0.0, 1e7)


def read_spec(kind_key: str, fields: Iterable[Mapping[str, Any]], *texts: str) -> tuple[dict[str, Any], list[str]]:
    """Return (what the plate says, complaints about numbers that cannot be right).

    Args:
        kind_key: key of the kind the row was taken for.
        fields: the kind's ``spec_fields``.
        texts: where to look, surest first: the spec cell, then the name, then the note.
    """
    spec: dict[str, Any] = {}
    complaints: list[str] = []
    texts = tuple(digits(text) for text in texts)
    for spec_field in fields:
        key = spec_field["key"]
        for text in texts:
            value = _value(kind_key, key, spec_field["type"], text) if text else None
            if value is None:
                continue
            low, high = _SANE.get(key, _SANE_DEFAULT)
            if isinstance(value, int | float) and not low <= value <= high:
                complaints.append(f"{spec_field['label']} of {value:g} {spec_field['unit']}".strip())
                break
            spec[key] = value
            break
    return spec, complaints


def _value(kind_key: str, key: str, sort: str, text: str) -> Any:
    if sort == "month":
        return _month(_MADE if key == "made" else _REQUAL, text)
    if key == "requal_suffix":
        match = _REQUAL.search(text)
        return match.group(2).upper() if match and match.group(2) else None
    if key == "fits":
        return (
            " ".join(text.split())[:200] if re.search(r"\d\s*(?:[-/]\d|in|\")|ght|npt|nst|nh\b", text, re.I) else None
        )
    if sort == "text":
        return _word(key, text)
    if key == "lanes":
        found = _first(_PATTERNS["lanes"], text)
        return None if found is None else _LANES.get(found.lower()) or int(found)
    if key in ("input_btu_h", "watts", "hp"):
        return _scaled(key, text)
    if key == "volts" and (kind_key, key) not in _OF_KIND:
        return _number(_first((rf"{_N}{_V}",), text))
    if key == "gal_each":
        found = _first(_PATTERNS[key], text)
        return 1.0 if found and found.lower() == "gal" else _number(found)
    if key == "gal":
        return _number(_first((rf"{_N}{_GAL}",), text))
    if key in ("tank_gal", "gal") and kind_key == "generator":
        return _number(_first(_PATTERNS["tank_gal"], text))
    if key == "nominal_lb":
        # the tare and water weights stand beside it in the same unit: take them away first
        text = re.sub(
            rf"\b(?:t\.?w\.?|tare(?:\s*w(?:eigh)?t)?|w\.?c\.?|water cap\w*)\s*[:=]?\s*{_N}(?:{_LB})?",
            " ",
            text,
            flags=re.I,
        )
    return _number(_first(_OF_KIND.get((kind_key, key)) or _PATTERNS.get(key, ()), text))


def _first(patterns: Iterable[str], text: str) -> str | None:
    for pattern in patterns:
        if match := re.search(pattern, text, re.I):
            return match.group(1)
    return None


def _number(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        return _fraction(text) if "/" in text else parse_number(text)
    except (CellError, ZeroDivisionError):
        return None


def _fraction(text: str) -> float:
    *whole, part = re.split(r"[\s-]+", text.strip())
    over, under = part.split("/")
    return round(sum(float(w) for w in whole if w) + float(over) / float(under), 4)


def _scaled(key: str, text: str) -> float | None:
    if key == "hp":
        match = _HP.search(text)
        return _number(match.group(1)) if match else None
    match = (_BTU if key == "input_btu_h" else _WATTS).search(text)
    if not match:
        return None
    # 190.000 BTU/h is written with thousands marks: no plate gives a heater to a thousandth
    number = _number(re.sub(r"\.(?=\d{3}(?:\D|$))", "", match.group(1)) if key == "input_btu_h" else match.group(1))
    if number is None:
        return None
    if key == "watts":
        return number * (1000 if match.group(2).lower().startswith("k") else 1)
    thousands = (match.group(2) or "").lower() == "k" or match.group(3).lower() == "mbh"
    return number * (1000 if thousands else 1e6 if match.group(2) else 1)


def _month(pattern: re.Pattern[str], text: str) -> str | None:
    match = pattern.search(text)
    if not match:
        return None
    written = match.group(1)
    if short := re.fullmatch(r"(\d{1,2})[-/](\d{2})", written):  # 03-19 on a plate is March 2019
        written = f"{short[1]}-20{short[2]}" if int(short[2]) < 70 else f"{short[1]}-19{short[2]}"
    try:
        day = parse_day(written)
    except CellError:
        return None
    return day.month if day else None


def _word(key: str, text: str) -> str | None:
    for pattern, word in _TEXTS.get(key, ()):
        if match := re.search(pattern, text, re.I):
            return word or re.sub(r"\s+", " ", match.group(1)).upper()
    return None
