app_name = "api"
urlpatterns = []
