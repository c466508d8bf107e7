"""Addresses of API version 1. Rooms on the right are named as strings."""

from django.urls import include, path
from rest_framework.routers import SimpleRouter

from inspections.api import (
    CalibrationViewSet,
    DeficiencyViewSet,
    EvidencedItemViewSet,
    InspectionViewSet,
    ProcedureViewSet,
    RepairViewSet,
    UpkeepViewSet,
    WalkViewSet,
)
from inspections.due_api import AgendaView
from inspections.run_api import (
    HandReceiptViewSet,
    PlantViewSet,
    RunEventViewSet,
    RunViewSet,
    SnapAnswerViewSet,
    SnapViewSet,
)
from inventory.api import CountViewSet, KindViewSet, LoadListViewSet, LotViewSet, PlaceViewSet, PostingViewSet
from inventory.order_api import CrewViewSet, OrderViewSet, RecallViewSet
from readiness.api import AlertViewSet, LineViewSet
from shared.schema import SchemaView
from shared.sign_in_api import MeView, TokenView

app_name = "api"

router = SimpleRouter(trailing_slash=False)
for address, view_set, name in (
    ("lines", LineViewSet, "line"),
    ("alerts", AlertViewSet, "alert"),
    ("places", PlaceViewSet, "place"),
    ("kinds", KindViewSet, "kind"),
    ("items", EvidencedItemViewSet, "item"),
    ("lots", LotViewSet, "lot"),
    ("load-lists", LoadListViewSet, "load-list"),
    ("postings", PostingViewSet, "posting"),
    ("counts", CountViewSet, "count"),
    ("orders", OrderViewSet, "order"),
    ("recalls", RecallViewSet, "recall"),
    ("crew", CrewViewSet, "crew"),
    ("procedures", ProcedureViewSet, "procedure"),
    ("walks", WalkViewSet, "walk"),
    ("inspections", InspectionViewSet, "inspection"),
    ("deficiencies", DeficiencyViewSet, "deficiency"),
    ("repairs", RepairViewSet, "repair"),
    ("upkeep", UpkeepViewSet, "upkeep"),
    ("calibrations", CalibrationViewSet, "calibration"),
    ("runs", RunViewSet, "run"),
    ("run-events", RunEventViewSet, "run-event"),
    ("hand-receipts", HandReceiptViewSet, "hand-receipt"),
    ("snaps", SnapViewSet, "snap"),
    ("snap-answers", SnapAnswerViewSet, "snap-answer"),
    ("plants", PlantViewSet, "plant"),
):
    router.register(address, view_set, basename=name)

urlpatterns = [
    path("schema", SchemaView.as_view(), name="schema"),
    path("token", TokenView.as_view(), name="token"),
    path("me", MeView.as_view(), name="me"),
    path("agenda", AgendaView.as_view(), name="agenda"),
    *router.urls,
    path("", include("reports.api_urls")),
]
