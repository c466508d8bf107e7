"""Addresses of the Bay."""

from django.urls import path

from inventory import crew_views, paper_views, recall_views, views

app_name = "inventory"
urlpatterns = [
    path("", views.bay, name="bay"),
    path("items/", views.item_list, name="item-list"),
    path("items/<int:pk>/", views.item, name="item"),
    path("items/<int:pk>/move", views.move, name="move"),
    path("items/<int:pk>/state", views.change_state, name="change-state"),
    path("places/<int:pk>/", views.place, name="place"),
    path("places/<int:pk>/seal", views.seal, name="seal"),
    path("lines/<int:pk>/", views.load_list, name="load-list"),
    path("lots/", views.lot_list, name="lot-list"),
    path("lots/<int:pk>/count", views.count_lot, name="count-lot"),
    path("items/<int:pk>/papers", paper_views.add, name="add-paper"),
    path("crew/", crew_views.crew, name="crew"),
    path("crew/roster.csv", crew_views.crew_csv, name="crew-csv"),
    path("crew/add", crew_views.add, name="add-crew"),
    path("crew/<int:pk>/", crew_views.change, name="change-crew"),
    path("recalls/", recall_views.recall_list, name="recall-list"),
    path("recalls/new", recall_views.new, name="new-recall"),
    path("recalls/<int:pk>/", recall_views.recall, name="recall"),
    path("recalls/<int:pk>/release", recall_views.release, name="release"),
]
