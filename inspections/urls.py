"""Addresses of the Walk and of every record."""

from django.urls import path

from inspections import item_views, offline_views, trend_views, views

app_name = "inspections"
urlpatterns = [
    path("", views.walks, name="walk"),
    path("open", views.open_walk, name="open-walk"),
    path("offline/", offline_views.app, name="offline"),
    path("worker.js", offline_views.worker, name="worker"),
    path("app.webmanifest", offline_views.manifest, name="manifest"),
    path("overview", offline_views.overview, name="overview"),
    path("pack/<int:pk>", offline_views.pack, name="pack"),
    path("sync", offline_views.sync, name="sync"),
    path("sync/photo", offline_views.sync_photo, name="sync-photo"),
    path("<int:pk>/", views.walk, name="round"),
    path("<int:pk>/seen", views.seen, name="seen"),
    path("<int:pk>/take-up", views.take_up, name="take-up"),
    path("<int:pk>/sign", views.sign, name="sign"),
    path("check/<str:of>/<int:pk>/<slug:check_key>/", views.check, name="check"),
    path("records/<uuid:client_id>/", views.inspection, name="inspection"),
    path("records/<uuid:client_id>/correct", views.correct, name="correct"),
    path("items/<int:pk>/trend/<slug:quantity>/", trend_views.trend, name="trend"),
    path("items/<int:pk>/trend/<slug:quantity>/readings.csv", trend_views.trend_csv, name="trend-csv"),
    path("items/<int:pk>/repair", item_views.repair, name="repair"),
    path("items/<int:pk>/upkeep", item_views.upkeep, name="upkeep"),
    path("items/<int:pk>/take-out", item_views.take_out, name="take-out"),
    path("items/<int:pk>/bring-back", item_views.bring_back, name="bring-back"),
]
