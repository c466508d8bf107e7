"""Addresses of the import of a register of the cache."""

from django.urls import path

from inventory.import_views import CACHE, views_of

app_name = "cache-import"
views = views_of(CACHE)
urlpatterns = [
    path("", views.list, name="list"),
    path("<int:pk>/", views.draft, name="draft"),
    path("<int:pk>/mend", views.mend, name="mend"),
    path("<int:pk>/take-in", views.take, name="take-in"),
    path("<int:pk>/drop", views.drop, name="drop"),
    path("runs/<int:pk>/", views.run, name="run"),
]
