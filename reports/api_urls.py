"""Addresses of what leaves, below those of the API."""

from django.urls import path
from rest_framework.routers import SimpleRouter

from reports.api import DispositionViewSet, DocumentViewSet, StatusExportView

router = SimpleRouter(trailing_slash=False)
router.register("documents", DocumentViewSet, basename="document")
router.register("dispositions", DispositionViewSet, basename="disposition")

urlpatterns = [path("status-export", StatusExportView.as_view(), name="status-export"), *router.urls]
