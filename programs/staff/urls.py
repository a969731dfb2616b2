from django.contrib.auth.decorators import login_not_required
from django.urls import path

from programs.staff import views, views_readiness

app_name = "staff"
urlpatterns = [
    path("login/", login_not_required(views.SignIn.as_view()), name="login"),
    path("logout/", views.sign_out, name="logout"),
    path("password/", views.ChangePassword.as_view(), name="password"),
    path("site/", views.choose_site, name="choose-site"),
    path("mine/", views.my_settings, name="mine"),
    path("settings/", views.settings_page, name="settings"),
    path("settings/looks/", views.looks, name="looks"),
    path("readiness/", views_readiness.readiness, name="readiness"),
    path("readiness/check/", views_readiness.check, name="check"),
    path("readiness/drills/", views_readiness.drill, name="drill"),
    path(
        "readiness/drills/<int:pk>/withdraw/", views_readiness.withdraw_drill, name="withdraw-drill"
    ),
    path("readiness/cards/add/", views_readiness.edit_card, name="add-card"),
    path("readiness/cards/<int:pk>/", views_readiness.edit_card, name="edit-card"),
]
