"""Addresses of the Proof book."""

from django.urls import path

from reports import verification_views as views

app_name = "proof-book"
urlpatterns = [
    path("verification", views.formulas, name="verification"),
    path("verification/run", views.verify, name="verify"),
]
