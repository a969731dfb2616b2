from django.urls import path

from programs.attendance.sheet import views, views_answers, views_care

urlpatterns = [
    path("visits/<int:pk>/", views.sheet, name="sheet"),
    path("visits/<int:pk>/live/", views.live, name="live"),
    path("visits/<int:pk>/units/<slug:what>/", views.switch_units, name="units"),
    path("visits/<int:pk>/without/", views_answers.go_on, name="go-on"),
    path("visits/<int:pk>/answer/", views_answers.answer, name="answer"),
    path("visits/<int:pk>/take-back/", views_answers.take_back, name="take-back"),
    path("visits/<int:pk>/carbohydrate/", views_care.give_carbohydrate, name="carbohydrate"),
    path("visits/<int:pk>/recheck/", views_care.recheck, name="recheck"),
    path("visits/<int:pk>/arrival/", views_answers.correct_arrival, name="correct-arrival"),
    path("interruptions/<int:pk>/", views_answers.write_up, name="write-up"),
]
