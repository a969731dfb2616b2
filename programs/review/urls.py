from django.urls import path

from programs.review import views

app_name = "review"
urlpatterns = [
    path("enrolments/<int:pk>/plan/", views.plan, name="plan"),
    path("plans/missing/", views.without_plan, name="without-plan"),
    path("plans/<int:pk>/sign/", views.sign_plan, name="sign-plan"),
]
