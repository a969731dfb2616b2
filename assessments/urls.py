from django.urls import path

from assessments import (
    views,
    views_choosing,
    views_course,
    views_policy,
    views_running,
    views_schedule,
)

app_name = "assessments"
urlpatterns = [
    path("enrolments/<int:pk>/course/", views_course.change_course, name="change-course"),
    path("enrolments/<int:pk>/assessments/", views.course, name="course"),
    path("enrolments/<int:pk>/assessments/open/", views_schedule.open_assessment, name="open"),
    path(
        "enrolments/<int:pk>/assessments/<slug:kind>/<int:number>/not-obtained/",
        views_schedule.not_obtained,
        name="not-obtained",
    ),
    path("enrolments/<int:pk>/take/", views_schedule.take, name="take"),
    path("assessments/to-book/", views_schedule.book_many, name="book-many"),
    path("assessments/<int:pk>/", views.record, name="record"),
    path("assessments/<int:pk>/tests/", views_choosing.choose, name="choose"),
    path("assessments/<int:pk>/run/<slug:key>/", views_running.run, name="run"),
    path("test-sets/", views_policy.test_sets, name="test-sets"),
    path("equations/<slug:key>/", views_policy.change_equation, name="change-equation"),
    path("test-sets/<slug:kind>/", views_policy.change_set, name="change-set"),
    path("assessments/<int:pk>/book/", views_schedule.book, name="book"),
    path("measurements/<int:pk>/error/", views.mark_in_error, name="mark-in-error"),
    path("concerns/<int:pk>/", views.concern, name="concern"),
    path("concerns/<int:pk>/hand-over/", views.hand_over, name="hand-over"),
    path("assessment-policy/", views_policy.change_policy, name="policy"),
    path("targets/<slug:key>/", views_policy.change_target, name="change-target"),
]
