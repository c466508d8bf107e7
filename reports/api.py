"""Documents, exports and dispositions over the API."""

from django.db.models import QuerySet
from django.http import FileResponse, HttpResponseBase
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework import mixins, serializers, status
from rest_framework.decorators import action
from rest_framework.exceptions import PermissionDenied
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse
from rest_framework.views import APIView

from inspections.models import Inspection, Walk
from inventory.api import RECORDED
from inventory.models import Item, Line
from reports import queries, services, views
from reports.models import Disposition, Document
from shared.api import Asked, DepartmentViewSet, InstantField, LedgerViewSet, OfDepartment, instant_in
from shared.walls import may


class DocumentSerializer(serializers.ModelSerializer):
    document_sort = serializers.ChoiceField(source="sort", choices=Document.Sort.choices)
    state = serializers.CharField(source="outbox.state", help_text="queued, claimed, done or failed.")
    progress = serializers.IntegerField(source="outbox.progress", help_text="In 100.")
    progress_note = serializers.CharField(source="outbox.progress_note")
    error = serializers.CharField(source="outbox.error")
    data_as_of = serializers.DateTimeField(source="outbox.asked_at")
    file = serializers.SerializerMethodField(help_text="Where to fetch it; null until it is done.")

    class Meta:
        model = Document
        fields = [
            "id", "document_sort", "title", "inspection", "walk", "line", "state", "progress", "progress_note", "error",
            "data_as_of", "pages", "digest", "file",
        ]  # fmt: skip

    def get_file(self, document: Document) -> str | None:
        return reverse("api:document-file", [document.pk], request=self.context["request"]) if document.path else None


class AskDocumentSerializer(serializers.Serializer):
    document_sort = serializers.ChoiceField(source="sort", choices=Document.Sort.choices)
    inspection = OfDepartment(Inspection, required=False)
    walk = OfDepartment(Walk, required=False)
    line = OfDepartment(Line, required=False)


class DocumentViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, DepartmentViewSet):
    """Papers of what was recorded; ask, watch, then fetch the file."""

    model, serializer_class = Document, DocumentSerializer
    needs = {"create": "report", "default": "read"}

    def rows(self) -> QuerySet[Document]:
        return queries.documents(self.department)

    @extend_schema(request=AskDocumentSerializer, responses={202: DocumentSerializer})
    def create(self, request: Request) -> Response:
        """Ask for a document, as of now; it is made by a worker."""
        body = AskDocumentSerializer(data=request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        if body.validated_data["sort"] == Document.Sort.STATUS and not may(request.membership, "export"):
            raise PermissionDenied("Your role does not carry 'export' here.")
        made = services.ask_document(department=self.department, by=self.user, **body.validated_data)
        found = self.get_queryset().get(pk=made.pk)
        return Response(self.get_serializer(found).data, status=status.HTTP_202_ACCEPTED)

    @extend_schema(responses={(200, "application/pdf"): OpenApiTypes.BINARY, (200, "text/csv"): OpenApiTypes.BINARY})
    @action(detail=True)
    def file(self, request: Request, pk: str) -> FileResponse:
        """Fetch the file of a document that is done."""
        return views.file_of(request, self.get_object())


class StatusExportView(Asked, APIView):
    needs = "export"

    @extend_schema(
        operation_id="status_export",
        parameters=[
            OpenApiParameter("as_of", OpenApiTypes.DATETIME, description="What was known then; now where left out."),
            OpenApiParameter("bom", bool, description="Begin with a byte order mark, for older spreadsheets."),
        ],
        responses={
            (200, "text/csv"): OpenApiResponse(OpenApiTypes.STR, description="One header row, one row an item.")
        },
    )
    def get(self, request: Request) -> HttpResponseBase:
        """Stream the equipment status as CSV, with every field that 2 CFR 200.313(d)(1) asks for."""
        as_of = instant_in(request, "as_of") or timezone.now()
        bom = request.query_params.get("bom", "").lower() in ("1", "true", "yes")
        return views.status_stream(self.department, self.user, as_of, bom=bom)


class DispositionSerializer(serializers.ModelSerializer):
    client_id = serializers.UUIDField(help_text="Your own id for this record: sent twice, it is recorded once.")
    item = OfDepartment(Item)
    happened_at = InstantField(required=False, help_text="When it left; now where left out.")

    class Meta:
        model = Disposition
        fields = [
            "id", "client_id", "item", "method", "fair_market_value", "sale_price", "note", "happened_at",
            "recorded_at", "by_name",
        ]  # fmt: skip
        read_only_fields = ["recorded_at", "by_name"]


class DispositionViewSet(LedgerViewSet):
    """How property left for good, and what it fetched."""

    model, serializer_class = Disposition, DispositionSerializer
    needs = {"create": "property", "default": "read"}
    filterset_fields = ["item", "method"]

    @extend_schema(request=DispositionSerializer, responses=RECORDED)
    def create(self, request: Request) -> Response:
        """Record that an item left for good; its state is disposed from then on."""
        return self.record(request, services.record_disposition)
