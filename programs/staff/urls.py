from django.contrib.auth.decorators import login_not_required
from django.urls import path

from programs.staff import views

app_name = "staff"
urlpatterns = [
    path("login/", login_not_required(views.SignIn.as_view()), name="login"),
    path("logout/", views.sign_out, name="logout"),
    path("password/", views.ChangePassword.as_view(), name="password"),
    path("site/", views.choose_site, name="choose-site"),
    path("settings/", views.settings_page, name="settings"),
    path("settings/looks/", views.looks, name="looks"),
]
