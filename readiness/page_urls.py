app_name = "readiness"
urlpatterns = []
