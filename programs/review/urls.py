from django.urls import include, path

from programs.review import views, views_queue

app_name = "review"
urlpatterns = [
    path("", include("programs.review.progression.urls")),
    path("enrolments/<int:pk>/plan/", views.plan, name="plan"),
    path("enrolments/<int:pk>/plan/write/", views_queue.write_draft, name="write-draft"),
    path("plans/missing/", views.without_plan, name="without-plan"),
    path("plans/to-sign/", views_queue.show, name="queue"),
    path("plans/sign-opened/", views_queue.sign_opened, name="sign-opened"),
    path("plans/<int:pk>/", views.version, name="version"),
    path("plans/<int:pk>/sign/", views_queue.sign, name="sign-plan"),
    path("plans/<int:pk>/send-back/", views_queue.send_back, name="send-back"),
    path("plans/<int:pk>/on-paper/", views.on_paper, name="on-paper"),
]
