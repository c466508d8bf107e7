from django.urls import path

from readiness import views

app_name = "readiness"
urlpatterns = [
    path("", views.tonight, name="tonight"),
    path("alerts/seen", views.alerts_seen, name="alerts-seen"),
    path("lines/<int:pk>/", views.line, name="line"),
    path("lines/<int:pk>/mission/", views.set_mission, name="set-mission"),
]
