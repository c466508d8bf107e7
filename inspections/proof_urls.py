"""Addresses of the Proof book's own pages."""

from django.urls import path

from inspections import proof_views as views

app_name = "proofs"
urlpatterns = [
    path("", views.record_list, name="list"),
    path("in-doubt/", views.in_doubt, name="in-doubt"),
    path("coverage/", views.coverage, name="coverage"),
    path("chain/", views.bound, name="chain"),
]
