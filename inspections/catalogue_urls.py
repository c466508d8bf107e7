"""Addresses of the catalogue in the Proof book: procedures, limits, intervals, kinds and meters."""

from django.urls import path

from inspections import catalogue_views as views
from inspections import instrument_views

app_name = "catalogue"
urlpatterns = [
    path("procedures/", views.procedure_list, name="procedures"),
    path("procedures/new", views.new_check, name="new-check"),
    path("procedures/<slug:check_key>/", views.procedure, name="procedure"),
    path("procedures/<slug:check_key>/amend", views.amend, name="amend"),
    path("limits/", views.limit_list, name="limits"),
    path("limits/<slug:key>/", views.limit, name="limit"),
    path("limits/<slug:key>/put", views.put_limit, name="put-limit"),
    path("intervals/", views.interval_list, name="intervals"),
    path("intervals/<slug:code>/", views.interval, name="interval"),
    path("intervals/<slug:code>/put", views.put_interval, name="put-interval"),
    path("kinds/", views.kind_list, name="kinds"),
    path("kinds/<slug:key>/", views.kind, name="kind"),
    path("kinds/<slug:key>/put", views.put_checks, name="put-checks"),
    path("instruments/", instrument_views.instruments, name="instruments"),
    path("instruments/calibrations/<int:pk>/", instrument_views.calibration, name="calibration"),
    path("instruments/items/<int:pk>/calibrate", instrument_views.calibrate, name="calibrate"),
]
