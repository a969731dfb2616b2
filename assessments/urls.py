from django.urls import path

from assessments import views, views_choosing, views_course, views_prescribe

app_name = "assessments"
urlpatterns = [
    path("enrolments/<int:pk>/course/", views_course.change_course, name="change-course"),
    path("enrolments/<int:pk>/assessments/", views.course, name="course"),
    path("enrolments/<int:pk>/assessments/open/", views.open_assessment, name="open"),
    path("assessments/<int:pk>/", views.record, name="record"),
    path("assessments/<int:pk>/tests/", views_choosing.choose, name="choose"),
    path("assessments/<int:pk>/run/<slug:key>/", views_choosing.run, name="run"),
    path("test-sets/", views_choosing.test_sets, name="test-sets"),
    path("equations/<slug:key>/", views_choosing.change_equation, name="change-equation"),
    path("test-sets/<slug:kind>/", views_choosing.change_set, name="change-set"),
    path("assessments/<int:pk>/book/", views.book, name="book"),
    path("measurements/<int:pk>/error/", views.mark_in_error, name="mark-in-error"),
    path("concerns/<int:pk>/", views.concern, name="concern"),
    path("enrolments/<int:pk>/prescription/", views_prescribe.prescribe, name="prescribe"),
    path("enrolments/<int:pk>/prescription/work-out/", views_prescribe.work_out, name="work-out"),
]
