"""Numbers that are written out: "twenty-four", "two hundred", "half a dozen", as digits in the text around them."""

import re

_ONES = {
    "zero": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
    "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16,
    "seventeen": 17, "eighteen": 18, "nineteen": 19,
}  # fmt: skip
_TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90,
}  # fmt: skip
_SCALES = {"pair": 2, "dozen": 12, "doz": 12, "dz": 12, "score": 20, "hundred": 100, "thousand": 1000}
_PLAIN = "|".join([*_ONES, *_TENS])
_SCALE = "|".join(_SCALES)
_RUN = re.compile(
    rf"\b(?:half\s+(?:an?\s+)?(?:{_SCALE})|(?:an?\s+)?(?:{_SCALE})|(?:{_PLAIN}))"
    rf"(?:(?:[\s-]+|\s+and\s+)(?:{_PLAIN}|{_SCALE}))*\b(?!-?fold)",
    re.I,
)


def digits(text: str) -> str:
    """Return a text with the numbers it writes out as digits: "fifty feet" is "50 feet", "two lanes" is "2 lanes"."""
    # "2 dozen" and "5 thousand" are the figure's own: they stay as they are
    return _RUN.sub(
        lambda m: m.group() if text[: m.start()].rstrip(" -")[-1:].isdigit() else str(_value(m.group())), text
    )


def _value(run: str) -> int:
    whole = part = 0
    half = False
    for word in re.split(r"[\s-]+", run.lower()):
        if word in _ONES or word in _TENS:
            part += _ONES.get(word, 0) + _TENS.get(word, 0)
        elif word == "half":
            half = True
        elif word == "thousand":
            whole, part = (whole + max(part, 1)) * 1000, 0
        elif word in _SCALES:
            part = max(part, 1) * _SCALES[word]
    return (whole + part) // 2 if half else whole + part
