from django.urls import path

from shared import member_views, views

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
    path("settings/people/", member_views.people, name="people"),
    path("settings/people/invite", member_views.invite, name="invite"),
    path("settings/people/invitations/<int:pk>/again", member_views.invite_again, name="invite-again"),
    path("settings/people/invitations/<int:pk>/withdraw", member_views.withdraw, name="withdraw"),
    path("settings/people/<int:pk>/change", member_views.change, name="change-member"),
    path("settings/people/<int:pk>/retire", member_views.retire, name="retire-member"),
    path("invitation/<slug:key>/", member_views.accept, name="accept"),
    path("files/<int:pk>", views.file, name="file"),
    path("healthz", views.healthz, name="healthz"),
]
