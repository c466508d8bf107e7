"""Addresses of documents and of what leaves."""

from django.urls import path

from reports import feed_views, views

app_name = "reports"
urlpatterns = [
    path("tags/<int:pk>.pdf", views.tag, name="tag"),
    path("", views.document_list, name="document-list"),
    path("ask", views.ask, name="ask"),
    path("equipment-status.csv", views.status_export, name="status-export"),
    path("labels/<int:pk>.pdf", views.labels, name="labels"),
    path("calendars/", feed_views.make_feed, name="make-feed"),
    path("calendars/<int:pk>/end", feed_views.revoke_feed, name="revoke-feed"),
    path("calendar/<str:key>.ics", feed_views.feed, name="feed"),
    path("<int:pk>/", views.document, name="document"),
    path("<int:pk>/again", views.ask_again, name="ask-again"),
    path("<int:pk>/file", views.document_file, name="document-file"),
]
