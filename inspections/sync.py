"""What phones send when signal is back: one record after another, each recorded once and answered on its own.

A refusal of one never touches the others. Nothing is recorded under a name but that of whoever is signed in, and what
a walk that was signed meanwhile can no longer take stands beside it.
"""

import logging
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

from django.db import transaction
from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone
from rest_framework import exceptions, serializers

from inspections import services
from inspections.api import ValuesField
from inspections.models import Inspection, Photo, Walk, WalkTakeUp
from inspections.page_queries import walk_view
from inspections.queries import QualityFlag, quality
from inspections.services.book import Book
from inspections.verdicts.core import ReadingError
from inventory.models import Count, Item, Line, Lot, Place, Seal
from inventory.services import record_count, record_seal
from inventory.views import signed
from shared.api import MENDS, Conflict, InstantField, OfDepartment, flattened
from shared.ledger import LedgerRow
from shared.templatetags.holdair import spoken

MOST_RECORDS: Final = 50
CLOCK_OFF: Final = timedelta(minutes=5)
WORDS: Final = 150  # of a remark from a phone: what we have to say of the record comes behind it
log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Sender:
    """Who sends, when it is here, and how far the phone's clock is off: positive where it is behind."""

    request: HttpRequest
    now: datetime
    clock_off: timedelta = timedelta(0)

    @property
    def signed(self) -> dict[str, Any]:
        return signed(self.request)

    @property
    def clock_words(self) -> str:
        """Return what a record has to say of the phone's clock; nothing where it is right."""
        if abs(self.clock_off) <= CLOCK_OFF:
            return ""
        side = "behind" if self.clock_off > timedelta(0) else "ahead"
        return f"The phone’s clock was {_span(self.clock_off)} {side}; times are the phone’s."

    def at(self, said: datetime) -> datetime:
        """Return when something happened: as the phone says, but never later than now."""
        return min(said, self.now)


class Later(Exception):
    """A record that cannot be taken yet: what it belongs to has not come."""


def answer(sent: Any, sender: Sender) -> dict[str, Any]:
    """Record one thing that a phone sends, and say what became of it: recorded, known, refused or later."""
    client_id = str(sent.get("client_id", ""))[:40] if isinstance(sent, Mapping) else ""
    try:
        with transaction.atomic():
            return {"client_id": client_id, **_taken(sent, sender)}
    except exceptions.ValidationError as refused:
        problems = [
            {"where": where, "what": str(detail), "mend": MENDS.get(detail.code, "")}
            for where, detail in flattened(refused.detail, "")
        ]
        return _refused(client_id, problems[0]["what"], problems[0]["mend"], problems)
    except ReadingError as refused:
        problems = [
            {"where": one.key, "what": spoken(f"{one.problem[:1].upper()}{one.problem[1:]}"), "mend": spoken(one.mend)}
            for one in refused.every
        ]
        return _refused(client_id, problems[0]["what"], problems[0]["mend"], problems)
    except Conflict as refused:
        return _refused(client_id, str(refused), refused.mend, [])
    except Later as wait:
        return {"client_id": client_id, "outcome": "later", "what": str(wait)}
    except Exception:
        # Whatever it was, it is ours: the record stays on the phone, and those behind it are taken.
        log.exception("a record from a phone could not be taken")
        what = "The server could not take this one just now. It stays on the phone and is sent again."
        return {"client_id": client_id, "outcome": "later", "what": what}


def _refused(client_id: str, what: str, mend: str, problems: list[dict[str, str]]) -> dict[str, Any]:
    return {"client_id": client_id, "outcome": "refused", "what": what, "mend": mend, "problems": problems}


def _taken(sent: Any, sender: Sender) -> dict[str, Any]:
    kind = sent.get("kind") if isinstance(sent, Mapping) else None
    if not isinstance(kind, str) or kind not in KINDS:
        raise Conflict(f"A record is one of: {', '.join(KINDS)}.", mend="Load the page anew, then send again.")
    shape, take = KINDS[kind]
    body = shape(data=sent, context={"request": sender.request})
    body.is_valid(raise_exception=True)
    return take(dict(body.validated_data), sender)


# Shapes ------------------------------------------------------------------------------------------------------------


class _Sent(serializers.Serializer):
    client_id = serializers.UUIDField()
    happened_at = InstantField()


class _WalkSent(_Sent):
    place = OfDepartment(Place)


class _OfWalk(_Sent):
    walk = serializers.UUIDField()


class _SignSent(_OfWalk):
    signed_name = serializers.CharField(max_length=120)
    note = serializers.CharField(max_length=2000, required=False, allow_blank=True, default="")


class _CheckSent(_Sent):
    check_key = serializers.SlugField(max_length=20)
    item = OfDepartment(Item, required=False)
    lot = OfDepartment(Lot, required=False)
    line = OfDepartment(Line, required=False)
    walk = serializers.UUIDField(required=False, allow_null=True)
    values = ValuesField()
    started_at = InstantField(required=False, allow_null=True)
    remark = serializers.CharField(max_length=WORDS, required=False, allow_blank=True, default="")
    version = serializers.IntegerField(required=False, min_value=0, max_value=1_000_000)


class _CountSent(_Sent):
    lot = OfDepartment(Lot)
    line = OfDepartment(Line, required=False, allow_null=True)
    counted = serializers.IntegerField(min_value=0, max_value=1_000_000)
    note = serializers.CharField(max_length=WORDS, required=False, allow_blank=True, default="")


class _SealSent(_Sent):
    place = OfDepartment(Place)
    event = serializers.ChoiceField(choices=Seal.Event.choices)
    number = serializers.CharField(max_length=40)
    note = serializers.CharField(max_length=WORDS, required=False, allow_blank=True, default="")


class _PhotoSent(_Sent):
    inspection = serializers.UUIDField()
    note = serializers.CharField(max_length=200, required=False, allow_blank=True, default="")


# What becomes of each ------------------------------------------------------------------------------------------------


def _walk(sent: dict[str, Any], sender: Sender) -> dict[str, Any]:
    known = Walk.objects.filter(department=sender.request.department, client_id=sent["client_id"]).first()
    walk = services.open_walk(
        department=sender.request.department,
        place=sent["place"],
        by=sender.request.user,
        started_at=sender.at(sent["happened_at"]),
        client_id=sent["client_id"],
    )
    return _recorded(known, reverse("inspections:round", args=[walk.pk]))


def _take_up(sent: dict[str, Any], sender: Sender) -> dict[str, Any]:
    walk = _walk_named(sent["walk"], sender)
    known, base = _once(WalkTakeUp, sent, sender)
    services.take_up_walk(walk=walk, **base)
    return _recorded(known, reverse("inspections:round", args=[walk.pk]))


def _sign(sent: dict[str, Any], sender: Sender) -> dict[str, Any]:
    walk = _walk_named(sent["walk"], sender)
    known = walk if walk.signed_at is not None else None
    services.sign_walk(
        walk=walk,
        by=sender.request.user,
        signed_name=sent["signed_name"],
        signed_at=sender.at(sent["happened_at"]),
        note=sent["note"],
    )
    walk.refresh_from_db()
    return _recorded(known, reverse("inspections:round", args=[walk.pk])) | {"done": _came_to(walk, sender)}


def _came_to(walk: Walk, sender: Sender) -> dict[str, Any]:
    """Return what a walk came to, for the screen that ends it."""
    view = walk_view(walk, sender.now, timezone.localdate(sender.now))
    told = [f"{flag.inspection.item.tag}: {flag.text}" if _of_item(flag) else flag.text for flag in quality(walk)]
    return {"reached": view.reached, "total": view.total, "found": len(view.found), "quality": told}


def _of_item(flag: QualityFlag) -> bool:
    return flag.inspection is not None and flag.inspection.item is not None


def _check(sent: dict[str, Any], sender: Sender) -> dict[str, Any]:
    known, base = _once(Inspection, sent, sender)
    subject = {name: sent[name] for name in ("item", "lot", "line") if sent.get(name) is not None}
    walk, beside = _walk_open(sent.get("walk"), sender) if known is None else (None, "")
    started_at = sent.get("started_at")
    row = services.record_inspection(
        check_key=sent["check_key"],
        values=sent["values"],
        walk=walk,
        started_at=started_at if started_at and started_at <= base["happened_at"] else None,
        remark=_remark(sent["remark"], beside, _other_version(sent, base, sender), sender.clock_words),
        source="phone",
        **subject,
        **base,
    )
    address = reverse("inspections:inspection", args=[row.client_id])
    return _recorded(known, address) | {"verdict": row.verdict, "summary": spoken(row.summary), "remark": row.remark}


def _other_version(sent: Mapping[str, Any], base: Mapping[str, Any], sender: Sender) -> str:
    """Return what to say where the phone's form was of another version than the procedure in force that day."""
    if sent.get("version") is None:
        return ""
    book = Book(sender.request.department)
    procedure = book.procedure(sent["check_key"], book.day(base["happened_at"]))
    if procedure is None or procedure.version == sent["version"]:
        return ""
    return f"Read by version {sent['version']} of the procedure; version {procedure.version} was in force."


def _count(sent: dict[str, Any], sender: Sender) -> dict[str, Any]:
    known, base = _once(Count, sent, sender)
    note = known.note if known else _remark(sent["note"], sender.clock_words)
    record_count(lot=sent["lot"], line=sent.get("line"), counted=sent["counted"], note=note, **base)
    return _recorded(known, reverse("inventory:lot-list"))


def _seal(sent: dict[str, Any], sender: Sender) -> dict[str, Any]:
    known, base = _once(Seal, sent, sender)
    note = known.note if known else _remark(sent["note"], sender.clock_words)
    record_seal(place=sent["place"], event=sent["event"], number=sent["number"], note=note, **base)
    return _recorded(known, reverse("inventory:place", args=[sent["place"].pk]))


def take_photo(sent: Mapping[str, Any], content: bytes, name: str, sender: Sender) -> dict[str, Any]:
    """Record one photo of a check that was sent before it, and say what became of it."""
    return answer({**sent, "kind": "photo", "content": (name, content)}, sender)


def _photo(sent: dict[str, Any], sender: Sender) -> dict[str, Any]:
    known, base = _once(Photo, sent, sender)
    of = Inspection.objects.filter(department=sender.request.department, client_id=sent["inspection"]).first()
    if of is None:
        raise Later("The check that this photo belongs to has not come yet.")
    name, content = sent["content"]
    services.add_photo(content=content, name=name, note=sent["note"], inspection=of, **base)
    return _recorded(known, reverse("inspections:inspection", args=[of.client_id]))


class _PhotoWithFile(_PhotoSent):
    """A photo's own words; the file itself does not come as JSON and is passed through as it is."""

    def to_internal_value(self, data: Any) -> dict[str, Any]:
        content = data.get("content")
        if not isinstance(content, tuple):
            raise Conflict("A photo is sent by itself, with its file.", mend="Load the page anew, then send again.")
        return super().to_internal_value(data) | {"content": content}


KINDS: Final[Mapping[str, tuple[type[_Sent], Callable[[dict[str, Any], Sender], dict[str, Any]]]]] = {
    "walk": (_WalkSent, _walk),
    "take-up": (_OfWalk, _take_up),
    "check": (_CheckSent, _check),
    "count": (_CountSent, _count),
    "seal": (_SealSent, _seal),
    "photo": (_PhotoWithFile, _photo),
    "sign": (_SignSent, _sign),
}


def _once(model: type[LedgerRow], sent: Mapping[str, Any], sender: Sender) -> tuple[Any, dict[str, Any]]:
    """Return the row that this id made before, and who signs and when: what was said first stands.

    A phone sends the same record until it is answered; by then its clock, or its owner's name, may have changed.
    """
    known = model.objects.filter(department=sender.request.department, client_id=sent["client_id"]).first()
    base = {**sender.signed, "client_id": sent["client_id"], "happened_at": sender.at(sent["happened_at"])}
    if known is not None and known.by_id == sender.request.user.pk:
        base |= {"happened_at": known.happened_at, "by_name": known.by_name}
    return known, base


def _recorded(known: Any, url: str) -> dict[str, Any]:
    return {"outcome": "known" if known is not None else "recorded", "url": url}


def _walk_named(client_id: uuid.UUID, sender: Sender) -> Walk:
    rows = Walk.objects.filter(department=sender.request.department, client_id=client_id)
    walk = rows.select_related("place", "by").first()
    if walk is None:
        raise Later("The beginning of this walk has not come yet.")
    return walk


def _walk_open(client_id: uuid.UUID | None, sender: Sender) -> tuple[Walk | None, str]:
    """Return the walk that a check goes on, and what to say where that one takes no more."""
    if client_id is None:
        return None, ""
    walk = _walk_named(client_id, sender)
    if walk.signed_at is None:
        return walk, ""
    return None, f"Of the walk of {walk.started_at:%Y-%m-%d}, signed before this came in; it stands beside it."


def _remark(*parts: str) -> str:
    return " ".join(part.strip() for part in parts if part.strip())[:300]


def _span(off: timedelta) -> str:
    minutes = round(abs(off).total_seconds() / 60)
    if minutes < 120:
        return f"{minutes} min"
    return f"{minutes // 60} h" if minutes < 2880 else f"{minutes // 1440} days"
