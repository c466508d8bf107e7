"""Addresses of the import of past checks."""

from django.urls import path

from inspections.import_views import views

app_name = "checks-import"
urlpatterns = [
    path("", views.list, name="list"),
    path("<int:pk>/", views.draft, name="draft"),
    path("<int:pk>/mend", views.mend, name="mend"),
    path("<int:pk>/take-in", views.take, name="take-in"),
    path("<int:pk>/drop", views.drop, name="drop"),
    path("runs/<int:pk>/", views.run, name="run"),
]
