"""Words of the rating: its functions, kinds and units as people read them, and its short summary."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

from readiness.rating.facts import Evidence

if TYPE_CHECKING:
    from readiness.rating.answer import Limit, Rating

FUNCTIONS: Final = (
    "shelter",
    "inflation",
    "anchoring",
    "water",
    "heat",
    "wash",
    "waste",
    "light",
    "power",
    "footing",
    "redress",
    "PPE",
    "signs",
    "crew",
)
# Without these nobody can be washed: at zero the line is Down. Any other function limits it.
DOWN_WITHOUT: Final = frozenset({"shelter", "inflation", "anchoring", "water", "PPE", "crew"})

# Best first: what a function is worth is the worst that it cannot do without.
EVIDENCE_ORDER: Final[tuple[Evidence, ...]] = ("proven", "stale", "claimed", "in doubt", "not recorded")

KIND_WORDS: Final[Mapping[str, str]] = {
    "air_cylinder": "Air cylinder",
    "backflow": "Pressure regulator and backflow preventer",
    "berm": "Berm or collection basin",
    "bladder": "Wastewater bladder",
    "cloth": "Wash cloth, single use",
    "fittings": "Fitting roll",
    "fuel_can": "Fuel can",
    "gfci": "Inline GFCI",
    "grid": "Elevation grid panel",
    "heater": "Water heater",
    "hose_cold": "Hose, clean, cold",
    "hose_hot": "Hose, clean, hot-rated",
    "hose_waste": "Waste hose, marked",
    "hose_whip": "Hose, whip",
    "inflation_kit": "Cylinder inflation kit",
    "inflator": "Electric inflator",
    "injector": "Inline detergent injector",
    "kit_adult": "Undress/redress kit, adult",
    "kit_child": "Undress/redress kit, child",
    "kit_xl": "Undress/redress kit, XL",
    "light_strip": "LED strip",
    "light_supply": "LED power supply",
    "litter": "Litter rollers and litters",
    "mat": "Anti-slip mat",
    "mixing_valve": "Thermostatic mixing valve",
    "papr": "PAPR or SCBA",
    "people": "Qualified people",
    "propane": "Propane cylinder",
    "pump": "Sump pump",
    "radio": "Portable radio",
    "regulator": "Propane manifold and regulator set",
    "signs": "Pictogram sign set and loud-hailer",
    "soap": "Soap, mild liquid",
    "sprayer": "Backpack sprayer, soap only",
    "suit": "Responder suit, glove and boot set",
    "tarp": "Ground tarp",
    "tie_down": "Tie-down, stake and strap",
}

CAUTION_COLD: Final = (
    "Below 40 degF without space heat: disrobe and dry methods first, warm shelter arranged. "
    "The decision is the commander's."
)
CAUTION_NO_HEAT: Final = (
    "No lane reaches the least shower temperature: dry decontamination and warm shelter first; cold water is never a "
    "reason not to wash. The decision is the commander's."
)
CAUTION_SOME_HEAT: Final = "No lane reaches the shower temperature asked: the heads run at {head} degF."
CAUTION_WITHOUT: Final = "What it can do is without {functions}. The decision is the commander's."


def kind_words(kind: str) -> str:
    """Return a kind's name as people read it."""
    return KIND_WORDS.get(kind) or kind.replace("_", " ").capitalize()


def minutes_words(minutes: float) -> str:
    """Return minutes as "1 h 40 min"."""
    whole = int(round(minutes))
    hours, rest = divmod(whole, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def figure_words(value: float, unit: str) -> str:
    """Return a figure with its unit; a bare count has none."""
    number = f"{value:,.0f}" if float(value).is_integer() else f"{value:,.1f}"
    return number if unit == "count" else f"{number} {unit}"


def limit_words(limit: "Limit") -> str:
    """Return one limit as a sentence: what, have against need, when it bites."""
    what = limit.function if not limit.resource else f"{limit.function}, {limit.resource}"
    have = ("at most " if limit.at_most else "") + figure_words(limit.have, "count")
    when = "from the start" if limit.bites_at_min <= 0 else f"from {minutes_words(limit.bites_at_min)} on"
    said = f"{what}: {have} of {figure_words(limit.need, limit.unit)} {when}"
    if limit.item:
        said += f" ({limit.item})"
    if limit.head_degF_at_asked_rate is not None:
        said += f"; heads at {limit.head_degF_at_asked_rate:.0f} degF at the asked rate"
    if limit.not_counted:
        said += f"; not counted: {', '.join(limit.not_counted)}"
    return said


def score_words(mean: float, low: float, high: float) -> str:
    """Return a probability with its range, as "88 in 100 (80 to 93)"."""
    return f"{mean:.0f} in 100 ({low:.0f} to {high:.0f})"


def _can_words(rating: "Rating", most: str) -> str:
    can = rating.can_do
    if not can.lanes:
        return f"{rating.line}: nobody can be washed now."
    lanes = f"{can.lanes} {'lane' if can.lanes == 1 else 'lanes'}"
    return (
        f"{rating.line}: {most}{can.people_per_hour:g} people an hour for {can.hours:g} h, {lanes}, heads at "
        f"{can.head_degF:.0f} degF ({rating.mission.wet_min:g} min wet each)."
    )


def summary_lines(rating: "Rating") -> list[str]:
    """Return the rating in a few lines of text: what it can do first, then how sure, the word, and what limits it."""
    can, asked = rating.can_do, rating.mission
    most = "at most " if rating.at_most and can.lanes else ""
    reason = f" ({rating.reason})" if rating.reason else ""
    lines = [
        _can_words(rating, most),
        f"Asked {asked.people_per_hour:g} an hour for {asked.hours:g} h at {asked.air_degF:g} degF: "
        f"{most}{score_words(rating.probability, rating.probability_low, rating.probability_high)}; what it can do: "
        f"{most}{score_words(can.probability, can.probability_low, can.probability_high)}.",
        f"{rating.word}{reason}, against its rated mission of {rating.rated.people_per_hour:g} an hour for "
        f"{rating.rated.hours:g} h.",
    ]
    if rating.not_recorded:
        lines.append("Not recorded: " + "; ".join(rating.not_recorded) + ".")
    lines += [f"Limit {n}. {limit_words(limit)}." for n, limit in enumerate(rating.limits, start=1)]
    if not rating.limits and rating.next_limit is not None:
        lines.append(f"Next limit, with one lane more. {limit_words(rating.next_limit)}.")
    lines += list(rating.cautions)
    if rating.single_points:
        lines.append("Single points: " + ", ".join(rating.single_points) + ".")
    lines.append(f"To be looked at again by {rating.next_change_at:%Y-%m-%d %H:%M} UTC.")
    return lines
