from django.urls import path

from programs.review.progression import views

urlpatterns = [
    path("progression/", views.progression, name="progression"),
    path("enrolments/<int:pk>/progression/", views.step, name="step"),
    path("enrolments/<int:pk>/progression/take/", views.take, name="take-step"),
]
