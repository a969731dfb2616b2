from django.urls import path

from programs.attendance.teaching import views

urlpatterns = [
    path("classes/<int:pk>/teach/", views.teach_class, name="teach-class"),
    path("enrolments/<int:pk>/teaching/", views.teaching, name="teaching"),
    path("teaching/<int:pk>/withdraw/", views.withdraw_teaching, name="withdraw-teaching"),
]
