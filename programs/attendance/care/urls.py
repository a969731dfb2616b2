from django.urls import path

from programs.attendance.care import views

urlpatterns = [
    path("visits/<int:pk>/carbohydrate/", views.give_carbohydrate, name="carbohydrate"),
    path("visits/<int:pk>/recheck/", views.recheck, name="recheck"),
]
