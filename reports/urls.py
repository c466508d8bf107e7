"""Addresses of documents and of what leaves."""

from django.urls import path

from reports import views

app_name = "reports"
urlpatterns = [
    path("tags/<int:pk>.pdf", views.tag, name="tag"),
    path("", views.document_list, name="document-list"),
    path("ask", views.ask, name="ask"),
    path("equipment-status.csv", views.status_export, name="status-export"),
    path("labels/<int:pk>.pdf", views.labels, name="labels"),
    path("<int:pk>/", views.document, name="document"),
    path("<int:pk>/again", views.ask_again, name="ask-again"),
    path("<int:pk>/file", views.document_file, name="document-file"),
]
