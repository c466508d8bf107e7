"""The base of the API: one shape of error, department walls in one place, and who is asking.

An error says what is wrong, where, and how to mend it; several wrong values are several ``problems``. Domain errors
become 409 (``Conflict``) or 400 (Django's ``ValidationError``) here and nowhere else.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from django.core.exceptions import PermissionDenied, RequestDataTooBig, ValidationError
from django.db.models import Model, QuerySet
from django.http import Http404
from django.utils import timezone
from rest_framework import exceptions, mixins, serializers, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import exception_handler
from rest_framework.viewsets import GenericViewSet

from shared.ledger import LedgerError, LedgerRow
from shared.models import Department, User

MENDS = {
    "required": "Send this field.",
    "null": "Send a value, or leave the field out.",
    "blank": "Send some text, or leave the field out.",
    "does_not_exist": "Use an id that a list of this API returned to you.",
    "invalid_choice": "Send one of the values that the schema lists.",
    "parse_error": "Send one JSON object with the header Content-Type: application/json.",
    "unsupported_media_type": "Send the header Content-Type: application/json.",
    "not_authenticated": "Sign in with POST /api/v1/token, then send the header Authorization: Token KEY.",
    "authentication_failed": "Sign in with POST /api/v1/token, then send the header Authorization: Token KEY.",
    "permission_denied": "Ask the department head for a role that carries it.",
    "not_found": "Check the address and its id against a list of this API.",
    "method_not_allowed": "Use one of the methods named in the Allow header.",
    "offset": "Send it as 2026-11-20T18:00:00-05:00 or 2026-11-20T23:00:00Z.",
    "throttled": "Wait as long as the Retry-After header says, then send it again.",
}
# Paper older than this is not of this gear, and a date beyond the other end is a slip of the pen.
EARLIEST, LATEST = datetime(1970, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)
OTHER_CONTENT = "Give a new record an id of its own; correct an old one by name."
MEND = "Correct this value and send the request again."


class Conflict(Exception):
    """A request that cannot be carried out as things stand; answered with 409."""

    def __init__(self, what: str, *, where: str = "", mend: str = "Read the record as it stands, then decide.") -> None:
        super().__init__(what)
        self.where, self.mend = where, mend


class AlreadySent(Conflict):
    """The sender's own id was used before, for something else."""

    def __init__(self, what: str = "This id was sent before with other content.") -> None:
        super().__init__(what, where="client_id", mend=OTHER_CONTENT)


def same_or_refuse(row: LedgerRow, said: Mapping[str, Any]) -> None:
    """Let a record that was sent before stand for what is said now, if it says the same.

    When it happened is not compared: a page that is sent twice says only "now".

    Raises:
        AlreadySent: something differs.
    """
    if differing := sorted(name for name, value in said.items() if getattr(row, name) != value):
        raise AlreadySent(f"This id was sent before with other content: {', '.join(differing)} differ.")


class Refused(exceptions.ValidationError):
    """Values that are refused, each with a mend of its own: (where, what, mend)."""

    def __init__(self, problems: Sequence[tuple[str, str, str]]) -> None:
        super().__init__({where: [what] for where, what, _ in problems}, code="refused")
        self.problems = [{"where": where, "what": what, "mend": mend} for where, what, mend in problems]


class Mended(Refused):
    """One value that is refused with a mend of its own."""

    def __init__(self, where: str, what: str, mend: str) -> None:
        super().__init__([(where, what, mend)])


def explain(error: Exception, context: dict[str, Any]) -> Response | None:
    """Turn domain errors into 409, refused values into 400 and what the framework raises into the one shape."""
    request = context.get("request")
    where = request.path if request is not None else ""
    if isinstance(error, Conflict | LedgerError):
        mend = getattr(error, "mend", "Record a correction instead.")
        answer = problem(str(error), getattr(error, "where", "") or where, mend)
        return Response(answer, status=status.HTTP_409_CONFLICT)
    if isinstance(error, RequestDataTooBig):
        answer = problem("This body is longer than any record.", where, "Send one record at a time, and no files.")
        return Response(answer, status=status.HTTP_413_REQUEST_ENTITY_TOO_LARGE)
    if isinstance(error, ValidationError):
        detail = error.message_dict if hasattr(error, "error_dict") else {"request": error.messages}
        error = exceptions.ValidationError(detail)
    elif isinstance(error, Http404):
        error = exceptions.NotFound()
    elif isinstance(error, PermissionDenied):
        error = exceptions.PermissionDenied(*[str(a) for a in error.args[:1]])
    response = exception_handler(error, context)
    if response is not None:
        response.data = _shape(error, where)
    return response


def problem(what: str, where: str, mend: str, problems: list[dict[str, str]] | None = None) -> dict[str, Any]:
    """Return the body of every error this API answers with."""
    return {"what": what, "where": where, "mend": mend, "problems": problems or []}


def _shape(error: exceptions.APIException, where: str) -> dict[str, Any]:
    if not isinstance(error, exceptions.ValidationError):
        code = getattr(error.detail, "code", error.default_code)
        return problem(str(error.detail), where, MENDS.get(code, MEND))
    found = getattr(error, "problems", None) or [
        {"where": path, "what": str(detail), "mend": MENDS.get(detail.code, MEND)}
        for path, detail in flattened(error.detail, "")
    ]
    many = f"{len(found)} values need" if len(found) != 1 else "1 value needs"
    return problem(f"Refused: {many} mending, nothing was recorded.", where, found[0]["mend"] if found else MEND, found)


def flattened(detail: Any, path: str) -> Iterator[tuple[str, exceptions.ErrorDetail]]:
    if isinstance(detail, dict):
        for key, inner in detail.items():
            name = "request" if key == "non_field_errors" else str(key)
            yield from flattened(inner, f"{path}.{name}" if path else name)
    elif isinstance(detail, list | tuple):
        for number, inner in enumerate(detail):
            nested = f"{path}[{number}]" if isinstance(inner, dict | list) else path
            yield from flattened(inner, nested)
    else:
        yield path or "request", detail


class Asked:
    """What every API view knows of who is asking; ``shared.walls.Allowed`` has put it on the request."""

    request: Request

    @property
    def department(self) -> Department:
        return self.request.department

    @property
    def user(self) -> User:
        return self.request.user

    @property
    def signed(self) -> dict[str, Any]:
        """Return who writes, as services take it: never what a body says."""
        return {"department": self.department, "by": self.user, "by_name": self.user.signed_name}

    @property
    def drawing_schema(self) -> bool:
        """Whether nobody asks and the schema is being drawn."""
        return getattr(self, "swagger_fake_view", False)


class DepartmentViewSet(Asked, GenericViewSet):
    """A view set whose rows are one department's: a row of another is not found, whoever asks."""

    model: type[Model]
    needs: str | dict[str, str] = "read"

    def get_queryset(self) -> QuerySet:
        if self.drawing_schema:
            return self.model._default_manager.none()
        return self.rows().filter(department=self.department)

    def rows(self) -> QuerySet:
        """Return the model's rows as this view reads them; the wall is added to whatever comes back."""
        return self.model._default_manager.all()


class OfDepartment(serializers.PrimaryKeyRelatedField):
    """An id in a body: only rows of the asking department exist."""

    def __init__(self, model: type[Model], **kwargs: Any) -> None:
        self.model = model
        if not kwargs.get("read_only"):
            kwargs["queryset"] = model._default_manager.all()
        super().__init__(**kwargs)

    def get_queryset(self) -> QuerySet | None:
        rows = super().get_queryset()
        department = getattr(self.context.get("request"), "department", None)
        return rows if rows is None else rows.filter(department=department)


class InstantField(serializers.DateTimeField):
    """An instant with its offset, in the years that records can be of."""

    default_error_messages = {
        "year": "This is no instant of our time.",
        "offset": "This names no offset from UTC, so nobody can tell which instant it is.",
    }

    def enforce_timezone(self, value: datetime) -> datetime:
        """Refuse a time without its offset: read in a zone that was not meant, a record would lie hours off."""
        if timezone.is_naive(value):
            self.fail("offset")
        return super().enforce_timezone(value)

    def to_internal_value(self, value: object) -> datetime:
        at = super().to_internal_value(value)
        if not EARLIEST <= at <= LATEST:
            self.fail("year")
        return at


def instant_in(request: Request, name: str) -> datetime | None:
    """Return an instant named in the query string; None where it is not named."""
    given = request.query_params.get(name)
    if not given:
        return None
    try:
        # A plus sign in a query string arrives as a space.
        return InstantField().run_validation(given.replace(" ", "+"))
    except exceptions.ValidationError as refused:
        raise Mended(name, str(refused.detail[0]), "Send it as 2026-11-20T18:00:00Z.") from refused


def not_ahead(at: datetime | None) -> datetime:
    """Return the instant something happened, now where none was given; refuse one that lies ahead."""
    now = timezone.now()
    if at is not None and at > now + timedelta(minutes=5):
        raise Mended("happened_at", "This lies ahead.", "Send when it happened, with its offset from UTC.")
    return at or now


def record_once(
    *, model: type[LedgerRow], department: Department, sent: Mapping[str, Any], write: Callable[[], LedgerRow]
) -> Response:
    """Write a ledger row once, however often it is sent, and return its number and ids.

    ``sent`` is what the sender named, ``client_id`` among it; only that is compared with a row recorded before, since
    the rest was filled in here. ``write`` is the service that records it.

    Raises:
        Conflict: the same client_id was sent before with other content.
    """
    client_id = sent.get("client_id")
    known = model.objects.filter(department=department, client_id=client_id).first() if client_id else None
    if known is not None:
        same_or_refuse(known, sent)
    row = known or write()
    answer = RecordedSerializer(row).data
    return Response(answer, status=status.HTTP_201_CREATED if known is None else status.HTTP_200_OK)


class RecordedSerializer(serializers.Serializer):
    """What was recorded: sending it again with the same client_id answers the same."""

    id = serializers.IntegerField()
    client_id = serializers.UUIDField()
    happened_at = serializers.DateTimeField()
    recorded_at = serializers.DateTimeField()
    by_name = serializers.CharField()


class LedgerViewSet(mixins.ListModelMixin, DepartmentViewSet):
    """A ledger, newest first: a row is never changed, only corrected by another that names it."""

    def rows(self) -> QuerySet:
        return self.model._default_manager.order_by("-happened_at", "-pk")

    def record(self, request: Request, service: Callable[..., LedgerRow]) -> Response:
        """Have a service write what the body says, signed by whoever asks, once however often it is sent."""
        body = self.get_serializer(data=request.data)
        body.is_valid(raise_exception=True)
        sent = dict(body.validated_data)
        filled = sent | {"happened_at": not_ahead(sent.get("happened_at"))}
        return record_once(
            model=self.model, department=self.department, sent=sent, write=lambda: service(**self.signed, **filled)
        )
