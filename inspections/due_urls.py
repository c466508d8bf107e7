from django.urls import path

from inspections import due_views as views

app_name = "due"
urlpatterns = [path("", views.due, name="list")]
