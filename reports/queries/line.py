"""The sheet of one line, from the rating that stood at an instant."""

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from inspections import queries as evidence_queries
from inspections.models import Inspection
from inventory.models import FailureMode, Line
from inventory.queries import ItemStanding, modes_for, standing
from readiness.models import StoredRating
from readiness.rating.words import CAUTION_COLD, FUNCTIONS, figure_words, minutes_words
from reports.queries.faults import fault_lines
from reports.queries.inspection import check_name, disposition
from reports.sheets import CAUTIONS, NOT_RECORDED, FaultLine, FunctionLine, ItemLine, LimitLine, LineSheet
from shared.templatetags.holdair import points

MISSION_WORDS = {
    "people_per_hour": ("People", "an hour"),
    "hours": ("For", "h"),
    "air_degF": ("Coldest air", "\u00b0F"),
    "supply_degF": ("Water supplied at", "\u00b0F"),
    "shower_degF": ("Shower wanted at", "\u00b0F"),
    "least_shower_degF": ("Shower at least", "\u00b0F"),
    "wet_min": ("Wet", "min each"),
    "handover_min": ("Hand-over", "min each"),
    "lane_flow_gpm": ("Flow of a lane", "gpm"),
    "night": ("At night", ""),
    "non_walking_share": ("Cannot walk", "share"),
    "child_share": ("Children", "share"),
    "xl_share": ("Extra large", "share"),
    "supply_psi": ("Supply pressure", "psi"),
    "supply_gpm": ("Supply flow", "gpm"),
    "elevation_ft": ("Heads above supply", "ft"),
    "tanker_at_min": ("Tanker takes waste from", "min"),
    "tanker_gal": ("Tanker takes", "gal"),
    "space_heat": ("Heated air inside", ""),
}


def line_sheet(line: Line, as_of: datetime) -> LineSheet:
    """Return one line's sheet: the rating that stood at ``as_of``, its items with their evidence, its open faults."""
    rows = line.ratings.filter(department=line.department, made_at__lte=as_of)
    stored = rows.order_by("-made_at", "-pk").first()
    aboard = standing(line, as_of, as_of).items
    common = {
        "department": line.department.name,
        "time_zone": line.department.time_zone,
        "as_of": as_of,
        "record_id": f"rating {stored.pk}" if stored else f"line {line.pk}",
        "line": line.name,
        "home": line.home.name if line.home else NOT_RECORDED,
        "rated_at": stored.at if stored else None,
        "items": tuple(_items(aboard, line, as_of, stored)),
        "faults": tuple(_faults(aboard, line, as_of)),
    }
    return LineSheet(**common, **(_answer(stored, aboard) if stored else _never_rated()))


def _never_rated() -> dict[str, Any]:
    return {
        "word": "Not rated",
        "reason": "",
        "can_do": "This line was never rated.",
        "sureness": "",
        "asked": "",
    }


def _answer(stored: StoredRating, aboard: tuple[ItemStanding, ...]) -> dict[str, Any]:
    rating = stored.rating
    mission, can = rating["mission"], rating["can_do"]
    most = "at most " if rating.get("at_most") else ""
    names = modes_for(stored.department, stored.at.date())
    head = f", heads at {can['head_degF']:.0f} \u00b0F" if can.get("head_degF") is not None else ""
    lanes = f"{can['lanes']} {'lane' if can['lanes'] == 1 else 'lanes'}"
    return {
        "word": rating["word"],
        "reason": rating["reason"],
        "can_do": f"Can do now: {most}{can['people_per_hour']:g} people an hour for {can['hours']:g} h, {lanes}{head}.",
        "sureness": f"Sure of that: {_score(can, most)}.",
        "asked": f"Readiness score, its own mission of {mission['people_per_hour']:g} an hour for "
        f"{mission['hours']:g} h at {mission['air_degF']:g} \u00b0F: {_score(rating, most)}.",
        "medical": f"At {mission['wet_min']:g} min wet each, a local medical setting; published guidance differs.",
        "mission": tuple(_mission(mission)),
        "functions": tuple(_functions(rating["functions"])),
        "limits": tuple(_limit(row) for row in rating["limits"]),
        "not_recorded": tuple(rating.get("not_recorded", ())),
        "blind_spots": tuple(_mode(spot, names) for spot in rating.get("blind_spots", ())),
        "single_points": tuple(_single_points(rating)),
        "conditions": tuple(rating.get("conditions", ())),
        "cautions": tuple(dict.fromkeys([*rating.get("cautions", ()), *CAUTIONS]))
        if rating.get("cautions") or mission["air_degF"] >= 40
        else (CAUTION_COLD, *CAUTIONS),
    }


def _score(of: Mapping[str, Any], most: str) -> str:
    """Return a chance with its range in whole points; no chance at all is never said to be at most that."""
    value, low, high = (points(of[key]) for key in ("probability", "probability_low", "probability_high"))
    return f"{most if of['probability'] > 0 else ''}{value} in 100, 80 % range {low} to {high}"


def _mode(spot: str, names: Mapping[str, FailureMode]) -> str:
    """Return a blind spot with the name of its failure mode."""
    mode = names.get(spot.split()[-1].split(":")[-1])
    return f"{spot} {mode.name}" if mode else spot


def _single_points(rating: Mapping[str, Any]) -> Iterator[str]:
    names = {item["tag"]: item.get("name", "") for f in rating["functions"] for item in f["items"]}
    for tag in rating.get("single_points", ()):
        yield f"{tag} {names.get(tag, '')}".strip()


def _mission(mission: Mapping[str, Any]) -> list[tuple[str, str]]:
    pairs = []
    for key, value in mission.items():
        label, unit = MISSION_WORDS.get(key, (key, ""))
        shown = "none" if value is None else ("yes" if value else "no") if isinstance(value, bool) else f"{value:g}"
        pairs.append((label, f"{shown} {unit}".strip() if value is not None else shown))
    return pairs


def _functions(rows: list[Mapping[str, Any]]) -> list[FunctionLine]:
    order = {name: number for number, name in enumerate(FUNCTIONS)}
    lines = []
    for row in sorted(rows, key=lambda r: order.get(r["function"], len(order))):
        margin = row.get("margin")
        lines.append(
            FunctionLine(
                name=row["function"],
                need=figure_words(row["need"], row["unit"]),
                have=("at most " if row.get("at_most") else "") + figure_words(row["have"], row["unit"]),
                margin=f"{margin:+.0%}" if margin is not None else "",
                sureness=points(row["probability"]) if row.get("probability") is not None else NOT_RECORDED,
                evidence=row["evidence"],
            )
        )
    return lines


def _limit(row: Mapping[str, Any]) -> LimitLine:
    what = row["function"] + (f", {row['resource']}" if row.get("resource") else "")
    head = row.get("head_degF_at_asked_rate")
    evidence = row.get("evidence") or {}
    basis = [row.get("basis") or "", ", ".join(str(evidence[k]) for k in ("state", "item", "on") if evidence.get(k))]
    if head is not None:
        basis.append(f"heads at {head:.0f} \u00b0F at the asked rate")
    if row.get("item") and row["item"] not in " ".join(basis):
        basis.insert(0, str(row["item"]))
    bites = row["bites_at_min"]
    return LimitLine(
        what=what,
        have=("at most " if row.get("at_most") else "") + figure_words(row["have"], row["unit"]),
        need=figure_words(row["need"], row["unit"]),
        bites="from the start" if bites <= 0 else f"from {minutes_words(bites)} on",
        evidence="; ".join(part for part in basis if part),
    )


def _items(
    aboard: tuple[ItemStanding, ...], line: Line, as_of: datetime, stored: StoredRating | None
) -> list[ItemLine]:
    items = [s.item for s in aboard]
    rated = {row["tag"]: row["evidence"] for f in (stored.rating["functions"] if stored else ()) for row in f["items"]}
    evidence = evidence_queries.evidence(items, as_of, as_of) if items else {}
    newest: dict[int, Inspection] = {}
    rows = Inspection.objects.as_of(as_of, as_of).filter(department=line.department, item__in=items)
    for row in rows.select_related("procedure").order_by("happened_at", "recorded_at", "pk"):
        newest[row.item_id] = row
    zone = line.department.time_zone
    return [
        ItemLine(
            tag=s.item.tag,
            name=s.item.name,
            quantity=s.quantity,
            state=disposition(s, zone),
            # The rating has the last word on what it counts; what no function counts is read from its own proofs.
            evidence=rated.get(s.item.tag)
            or evidence_word(s, evidence.get(s.item.pk, {}), as_of, seen=s.item.pk in newest),
            last=_last(newest.get(s.item.pk), zone),
        )
        for s in aboard
    ]


def _last(row: Inspection | None, zone: str) -> str:
    if row is None:
        return NOT_RECORDED
    return f"{check_name(row)}: {row.verdict}, {row.by_name}, {row.happened_at.astimezone(ZoneInfo(zone)):%d %b %Y}"


def evidence_word(standing: ItemStanding, known: Mapping[str, Any], as_of: datetime, *, seen: bool) -> str:
    """Return the weakest evidence among the modes of an item that its scheduled checks see."""
    words = set()
    for code in standing.item.kind.scheduled_modes:
        mode = known.get(code)
        if mode is None or mode.outcome in ("none", "claimed"):
            words.add("claimed")
        elif mode.outcome == "failed":
            words.add("failed")
        elif mode.in_doubt_since is not None:
            words.add("in doubt")
        elif mode.reopened or (mode.stale_at is not None and mode.stale_at <= as_of):
            words.add("stale")
        else:
            words.add("proven")
    order = ("failed", "in doubt", "claimed", "stale", "proven")
    return next((word for word in order if word in words), "claimed" if seen or standing.counted_on else NOT_RECORDED)


def _faults(aboard: tuple[ItemStanding, ...], line: Line, as_of: datetime) -> list[FaultLine]:
    ids = {s.item.pk for s in aboard}
    found = evidence_queries.open_deficiencies(line.department, as_of, as_of)
    rows = [f.deficiency for f in found if f.deficiency.item_id in ids]
    lines = fault_lines(rows, modes_for(line.department, as_of.date()), as_of, line.department.time_zone)
    return [lines[row.pk] for row in rows]
