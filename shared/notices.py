"""What people are told, and the mail that carries it: each thing to each person once.

``tell`` writes the notice and the outbox row that will mail it in the caller's transaction; the database holds that a
key is told to nobody twice. The worker sends by SMTP and then marks the notice sent. Between the server's word that it
took the mail and that mark lies a window of a few milliseconds: a worker that dies in it sends again after the restart,
under the same Message-ID, made from the key, by which a mailbox tells the second copy from a second mail. A notice
without an address, or of a sort that its reader does not want mailed, stands on the settings page and is not mailed.
"""

import hashlib
import logging
from collections.abc import Callable
from datetime import date, datetime, timedelta
from email.utils import format_datetime
from smtplib import SMTPRecipientsRefused
from typing import Any, Final
from urllib.parse import urlsplit

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.urls import reverse

from shared import outbox
from shared.models import Department, Membership, Notice, OutboxRow, User

log = logging.getLogger(__name__)

MAIL: Final = "shared.mail_notice"
ALERT, REMINDER, DIGEST = "alert", "reminder", "digest"
WANTS: Final = {ALERT: "wants_alerts", REMINDER: "wants_reminders", DIGEST: "wants_digest"}
Role = Membership.Role
# Whom each sort comes to: alerts the head, reminders those who walk, the digest those who decide and order.
MAILED_TO: Final = {
    "wants_alerts": frozenset({Role.HEAD}),
    "wants_reminders": frozenset({Role.OFFICER, Role.CREW}),
    "wants_digest": frozenset({Role.HEAD, Role.OFFICER}),
}
TRY_FOR: Final = timedelta(days=3)  # news older than this is on the page, and no longer worth a mail


def readers(department: Department, sort: str, on: date) -> list[Membership]:
    """Return the memberships in force on a day that a sort of news comes to, mailed or not."""
    held = Membership.objects.filter(department=department, role__in=MAILED_TO[WANTS[sort]], user__is_active=True)
    return list(held.current(on).select_related("user", "department").order_by("pk"))


@transaction.atomic
def tell(*, department: Department, user: User, key: str, sort: str, subject: str, body: str) -> Notice | None:
    """Tell somebody one thing, once, in the caller's transaction; None where it was told before."""
    address = user.email if _wants_mail(department, user, sort) else ""
    notice, is_new = Notice.objects.get_or_create(
        department=department,
        user=user,
        key=key,
        defaults={"sort": sort, "subject": " ".join(subject.split())[:200], "body": body, "address": address},
    )
    if not is_new:
        return None
    if address:
        outbox.enqueue(task=MAIL, payload={"notice": notice.pk}, department=department)
    return notice


def _wants_mail(department: Department, user: User, sort: str) -> bool:
    """Return whether there is mail at all, and somebody still has a sign-in here and wants this sort of it."""
    if not (settings.HOLDAIR_MAILS and user.is_active):
        return False
    wanted = {WANTS[sort]: True} if sort in WANTS else {}
    return Membership.objects.filter(department=department, user=user, **wanted).exists()


def deliver(*, notice_id: int, clock: Callable[[], datetime]) -> bool:
    """Mail a notice unless it was mailed, and mark it so; return whether a mail went out.

    Raises:
        GiveUp: the server will never take mail for this address.
    """
    notice = Notice.objects.select_related("user", "department").get(pk=notice_id)
    if notice.sent_at or not notice.address or not _wants_mail(notice.department, notice.user, notice.sort):
        return False
    try:
        _mail(notice).send()
    except SMTPRecipientsRefused as refused:
        if all(500 <= code < 600 for code, _ in refused.recipients.values()):
            raise outbox.GiveUp(f"The mail server refuses {notice.address} for good.") from refused
        raise
    return bool(Notice.objects.filter(pk=notice.pk, sent_at=None).update(sent_at=clock()))


def retry_unsent(*, at: datetime) -> int:
    """Ask again for mail that the outbox gave up while the mail server was away; return how many."""
    fresh = Notice.objects.filter(sent_at=None, made_at__gt=at - TRY_FOR).exclude(address="")
    asked = 0
    for notice in fresh.select_related("department"):
        newest = OutboxRow.objects.filter(task=MAIL, payload__notice=notice.pk).order_by("-pk").first()
        if newest is not None and newest.state == OutboxRow.State.FAILED and not newest.error.startswith("GiveUp"):
            outbox.enqueue(task=MAIL, payload={"notice": notice.pk}, department=notice.department)
            asked += 1
    return asked


def address_of(url_name: str, *args: Any) -> str:
    """Return the whole address of a page, for where there is no request to take it from."""
    return settings.HOLDAIR_ADDRESS.rstrip("/") + reverse(url_name, args=args)


def host() -> str:
    """Return the name that ids of ours end in."""
    return urlsplit(settings.HOLDAIR_ADDRESS).hostname or "localhost"


def _mail(notice: Notice) -> EmailMessage:
    settings_page = address_of("shared:settings")
    foot = f"-- \nHoldair, for {notice.department}. What is mailed to you is set on {settings_page}#mail\n"
    return EmailMessage(
        subject=notice.subject,
        body=f"{notice.body.rstrip()}\n\n{foot}",
        to=[notice.address],
        headers={
            "Message-ID": message_id(notice),
            "Date": format_datetime(notice.made_at),
            "Auto-Submitted": "auto-generated",
            "List-Unsubscribe": f"<{settings_page}>",
        },
    )


def message_id(notice: Notice) -> str:
    """Return the id that all copies of one notice's mail bear."""
    what = f"{notice.department_id}/{notice.user_id}/{notice.key}"
    return f"<{hashlib.sha256(what.encode()).hexdigest()[:24]}@{host()}>"
