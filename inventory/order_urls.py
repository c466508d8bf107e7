"""Addresses of shortages and orders."""

from django.urls import path

from inventory import order_views

app_name = "orders"
urlpatterns = [
    path("", order_views.shortage_list, name="list"),
    path("shortages.csv", order_views.shortage_csv, name="csv"),
    path("new", order_views.new, name="new"),
    path("<int:pk>/", order_views.order, name="order"),
    path("<int:pk>/receive", order_views.receive, name="receive"),
    path("<int:pk>/date", order_views.date, name="date"),
    path("<int:pk>/cancel", order_views.cancel, name="cancel"),
]
