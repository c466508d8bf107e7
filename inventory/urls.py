app_name = "inventory"
urlpatterns = []
