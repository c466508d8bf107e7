"""Addresses of deficiencies."""

from django.urls import path

from inspections import deficiency_views as views

app_name = "deficiencies"
urlpatterns = [
    path("", views.deficiency_list, name="list"),
    path("open", views.find_item, name="find-item"),
    path("open/<int:pk>/", views.new, name="new"),
    path("<int:pk>/", views.deficiency, name="deficiency"),
    path("<int:pk>/repair", views.repair, name="repair"),
    path("<int:pk>/restore", views.restore, name="restore"),
    path("<int:pk>/accept", views.accept, name="accept"),
    path("<int:pk>/withdraw", views.withdraw, name="withdraw"),
    path("<int:pk>/photos", views.photos, name="photos"),
    path("records/<uuid:client_id>/photos", views.photos_of_record, name="photos-of-record"),
]
