"""Which kind a row is, from the words and the plate of it, and how sure that is.

Every kind brings the phrases by which registers name it. A phrase counts when all its words stand in the text, in any
order ("Pump, sump" is a sump pump), misspelt words for less. Rare words weigh more than common ones, words in the
first part of the name more than what follows a comma, a bracket or "with": a mixing valve *with thermometer* is a
mixing valve. The plate breaks ties: what has a tare weight is a propane cylinder whatever it is called.
"""

import math
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import lru_cache
from typing import Any

from inventory.importing.doubts import doubt

OTHER = "other"
SURE_ENOUGH = 0.45  # below: kind "other", with the nearest kinds named
SURE = 0.7  # below: taken, with a finding that asks somebody to confirm
_SMALL = frozenset(
    [
        "a",
        "an",
        "and",
        "or",
        "of",
        "for",
        "the",
        "to",
        "in",
        "on",
        "at",
        "w",
        "with",
        "ea",
        "each",
        "per",
        "set",
        "by",
        "type",
        "style",
        "new",
        "no",
    ]
)
_VESSELS = frozenset({"cylinder", "tank", "bottle"})
_BREAKS = re.compile(r"\s*(?:,|;|:|\(|\)|\[|\]|–| - |\bwith\b|\bw/|\bincl\w*|\bplus\b|\+|/(?=\s))\s*", re.I)
_SHORT = {
    "elec": "electric", "cyl": "cylinder", "cyls": "cylinder", "htr": "heater", "gen": "generator",
    "genny": "generator",
    "batt": "battery", "reg": "regulator", "regs": "regulator", "decon": "decon", "decontamination": "decon",
    "ped": "pediatric",
    "peds": "pediatric", "paediatric": "pediatric", "xlarge": "xl", "ext": "extension", "comp": "composite",
    "inj": "injector",
    "det": "detergent", "insp": "inspection", "infl": "inflator", "therm": "thermostatic", "wastewater": "waste water",
    "greywater": "grey water", "gray": "grey", "loudhailer": "loud hailer", "tiedown": "tie down",
    "tie-down": "tie down",
    "genset": "generator", "lpg": "propane", "lp": "propane", "hosereel": "hose", "shwr": "shower", "shltr": "shelter",
    "bldr": "bladder", "prop": "propane",
    "manif": "manifold", "vlv": "valve", "auto": "automatic", "equip": "equipment", "ctn": "carton",
    "disch": "discharge",
}  # fmt: skip
# what only one sort of thing has on its plate
_PLATES: tuple[tuple[re.Pattern[str], tuple[str, ...]], ...] = (
    (re.compile(r"\bt\.?w\.?\s*\d|\btare\b|\b(?:20|30|33|40|60|100)\s*(?:lb|#)", re.I), ("propane",)),
    (re.compile(r"\bhydro|cu\.?\s*ft|\bscf\b|\b(?:2216|3000|4500|5500)\s*psi\b(?!\s*in)", re.I), ("air_cylinder",)),
    (re.compile(r"btu", re.I), ("heater",)),
    (re.compile(r"\bgpm\b|\bhp\b", re.I), ("pump",)),
    (re.compile(r"\blanes?\b", re.I), ("shelter", "berm")),
    (re.compile(r"\bkw\b|\bkva\b", re.I), ("generator",)),
    (re.compile(r"\d\s*ah\b|\bagm\b", re.I), ("battery",)),
    (re.compile(r"\bawg\b|\b1[024]/3\b", re.I), ("cord",)),
    (re.compile(r"\bgvwr?\b|\baxle\b", re.I), ("trailer",)),
    (re.compile(r"\b(?:1|2|3|4|5)\d{2}\s*gal", re.I), ("bladder",)),
    (re.compile(r"\bght\b", re.I), ("hose_cold", "hose_hot", "hose_whip", "fittings")),
)


@dataclass(frozen=True, slots=True)
class Recognised:
    """The kind a text was taken for, how sure that is from 0 to 1, and the nearest kinds, surest first."""

    key: str
    sureness: float
    nearest: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Phrase:
    kind: str
    words: tuple[str, ...]
    weight: float


class Recogniser:
    """Knows the kinds of one catalogue by their words."""

    def __init__(self, kinds: Iterable[Mapping[str, Any]]) -> None:
        """Take kinds as mappings with ``key``, ``name``, ``words`` and ``consumable``."""
        spoken: dict[tuple[str, tuple[str, ...]], None] = {}
        for kind in kinds:
            if kind["key"] == OTHER:
                continue
            for phrase in (kind["name"], *kind["words"]):
                if words := tuple(dict.fromkeys(words_of(phrase))):
                    spoken[kind["key"], words] = None
        uses = Counter(word for _, words in spoken for word in {*words})
        owners = {word: len({k for k, words in spoken if word in words}) for word in uses}
        self.rarity = {word: 1.0 + math.log(12 / min(owners[word], 12)) for word in uses}
        self.phrases = [_Phrase(k, words, sum(self.rarity[w] for w in words)) for k, words in spoken]
        self.vocabulary = frozenset(uses)
        self.own: dict[str, set[str]] = defaultdict(set)
        for kind, words in spoken:
            self.own[kind].update(words)
        self.heads = frozenset(words[-1] for _, words in spoken)
        self.answered: dict[tuple[str, str], Recognised] = {}

    def recognise(self, name: str, plate: str = "") -> Recognised:
        """Return the kind of a row, from what the register calls it and its spec cell."""
        asked = (" ".join(name.split()), " ".join(plate.split()))
        if asked not in self.answered:
            self.answered[asked] = self._recognise(*asked)
        return self.answered[asked]

    def _recognise(self, name: str, plate: str) -> Recognised:
        places = self._places(name)
        scores: dict[str, float] = {}
        for phrase in self.phrases:
            if score := self._score(phrase, places):
                scores[phrase.kind] = max(scores.get(phrase.kind, 0.0), score)
        scores = {
            kind: score * doubt(kind, name, words_of, self.own[kind], self.heads) for kind, score in scores.items()
        }
        self._add_plate(scores, f"{name} {plate}", vessel=bool(_VESSELS & {*words_of(name)}))
        if not scores:
            return Recognised(OTHER, 0.0, self._near(places))
        ranked = sorted(scores, key=lambda k: -scores[k])
        best = scores[ranked[0]]
        second = scores[ranked[1]] if len(ranked) > 1 else 0.0
        sureness = self._sureness(best, second, places)
        key = ranked[0] if sureness >= SURE_ENOUGH else OTHER
        return Recognised(key, round(sureness, 2), tuple(ranked[:3]))

    def _places(self, name: str) -> dict[str, float]:
        """Return for each word of the name how much its place counts, nearest vocabulary word for misspelt ones."""
        places: dict[str, float] = {}
        parts = [p for p in _BREAKS.split(name) if p]
        rank = 0
        for part in parts:
            words = words_of(part)
            if not words:
                continue
            for position, word in enumerate(words):
                # the last word of a part is its head: a propane *manifold*, a water *heater*
                head = 1.12 if position == len(words) - 1 and rank == 0 else 1.0
                for known, likeness in self._known(word):
                    places[known] = max(places.get(known, 0.0), head * likeness * max(0.4, 1.0 - 0.22 * rank))
            rank += 1
        return places

    def _known(self, word: str) -> list[tuple[str, float]]:
        if word in self.vocabulary:
            return [(word, 1.0)]
        if len(word) < 4:
            return []
        return _like(word, self.vocabulary)

    def _score(self, phrase: _Phrase, places: Mapping[str, float]) -> float:
        score = 0.0
        for word in phrase.words:
            if word not in places:
                return 0.0
            score += self.rarity[word] * places[word]
        # two words that agree say more than their sum: "waste hose" over "hose"
        return score * (1 + 0.1 * (len(phrase.words) - 1))

    def _add_plate(self, scores: dict[str, float], text: str, *, vessel: bool) -> None:
        """Raise what the plate speaks for; alone it decides only for a bare "cylinder" or "tank"."""
        for pattern, kinds in _PLATES:
            if pattern.search(text):
                for kind in kinds:
                    if kind in scores:
                        scores[kind] *= 1.15
                    elif vessel and not scores:
                        scores[kind] = 1.6

    def _sureness(self, best: float, second: float, places: Mapping[str, float]) -> float:
        absolute = 1 - math.exp(-best / 1.9)
        apart = 1 - 0.55 * (second / best) ** 3
        said = sum(self.rarity[w] * p for w, p in places.items()) or 1.0
        covered = min(1.0, 0.75 + 0.25 * best / said)
        return min(0.99, absolute * apart * covered)

    def _near(self, places: Mapping[str, float]) -> tuple[str, ...]:
        near = Counter()
        for phrase in self.phrases:
            near[phrase.kind] += sum(places.get(w, 0.0) * self.rarity[w] for w in phrase.words) / len(phrase.words)
        return tuple(kind for kind, weight in near.most_common(3) if weight > 0)


def words_of(text: str) -> list[str]:
    """Return the words that can tell a kind: lower case, singular, without numbers and units."""
    bare = re.sub(r"[^\w\s-]", " ", text.lower().replace("'", "")).replace("_", " ").replace("-", " ")
    found: list[str] = []
    for word in bare.split():
        for spelt in _SHORT.get(word, word).split():
            if spelt in _SMALL or not re.search(r"[a-z]", spelt) or re.fullmatch(r"\d+[a-z]{0,3}", spelt):
                continue
            found.append(_singular(spelt))
    return found


def _singular(word: str) -> str:
    if len(word) > 4 and word.endswith("ies"):
        return word[:-3] + "y"
    if len(word) > 4 and word.endswith(("ches", "shes", "sses", "xes")):
        return word[:-2]
    if len(word) > 3 and word.endswith("s") and not word.endswith("ss"):
        return word[:-1]
    return word


@lru_cache(maxsize=8192)
def _like(word: str, vocabulary: frozenset[str]) -> list[tuple[str, float]]:
    found: Sequence[tuple[str, float]] = [
        (known, SequenceMatcher(None, word, known).ratio())
        for known in vocabulary
        if known[0] == word[0] and abs(len(known) - len(word)) <= 2
    ]
    close = sorted((pair for pair in found if pair[1] >= 0.82), key=lambda p: -p[1])[:2]
    return [(known, 0.85 * likeness) for known, likeness in close]
