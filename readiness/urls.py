"""Root URLs: every room's own, named as strings."""

from django.urls import include, path

handler404 = "shared.views.not_found"
handler500 = "shared.views.broken"
urlpatterns = [
    path("", include("shared.urls")),
    path("", include("readiness.page_urls")),
    path("bay/import/checks/", include("inspections.import_urls")),
    path("bay/import/", include("inventory.import_urls")),
    path("bay/", include("inventory.urls")),
    path("orders/", include("inventory.order_urls")),
    path("walk/", include("inspections.urls")),
    path("due/", include("inspections.due_urls")),
    path("runs/", include("inspections.run_urls")),
    path("deficiencies/", include("inspections.deficiency_urls")),
    path("reports/", include("reports.urls")),
    path("proof-book/", include("inspections.proof_urls")),
    path("proof-book/", include("inspections.catalogue_urls")),
    path("proof-book/", include("reports.proof_book_urls")),
    path("api/v1/", include("readiness.api_urls")),
]
