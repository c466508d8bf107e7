from django.urls import path

from shared import views

app_name = "shared"
urlpatterns = [
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("department/", views.department, name="department"),
    path("settings/", views.settings, name="settings"),
    path("settings/mail/", views.mail, name="mail"),
    path("settings/alert-step/", views.alert_step, name="alert-step"),
    path("settings/password/", views.change_password, name="change-password"),
    path("settings/tokens/", views.make_api_token, name="make-token"),
    path("settings/tokens/<int:pk>/revoke/", views.revoke_api_token, name="revoke-token"),
    path("files/<int:pk>", views.file, name="file"),
    path("healthz", views.healthz, name="healthz"),
]
