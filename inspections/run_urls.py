"""Addresses of runs and drills, of what follows a use, of snaps and of hidden test faults."""

from django.urls import path

from inspections import run_views, snap_views

app_name = "runs"
urlpatterns = [
    path("", run_views.run_list, name="list"),
    path("send/<int:pk>/", run_views.send, name="send"),
    path("<int:pk>/", run_views.run, name="run"),
    path("<int:pk>/put", run_views.put, name="put"),
    path("<int:pk>/rows/<int:event>/undo", run_views.undo, name="undo"),
    path("<int:pk>/rows/<int:event>/", run_views.amend, name="amend"),
    path("<int:pk>/receive/", run_views.receive, name="receive"),
    path("receipts/<int:pk>/", run_views.receipt, name="receipt"),
    path("after-use/", run_views.after_use, name="after-use"),
    path("after-use/dry", run_views.dry, name="dry"),
    path("after-use/pack", run_views.pack, name="pack"),
    path("after-use/clear", run_views.clear, name="clear"),
    path("drills/<int:pk>/", run_views.drill_curve, name="drills"),
    path("snap/", snap_views.snaps, name="snaps"),
    path("snap/draw", snap_views.draw, name="draw"),
    path("snap/<int:pk>/", snap_views.snap, name="snap"),
    path("snap/<int:pk>/answer", snap_views.answer, name="answer"),
    path("plants/", snap_views.plants, name="plants"),
    path("plants/on/<int:pk>/", snap_views.plant, name="plant"),
    path("plants/<int:pk>/remove", snap_views.remove, name="remove-plant"),
]
