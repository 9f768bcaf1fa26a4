from django.urls import path

from jobs.views import plans

urlpatterns = [
    path("systems/<int:pk>/plan/", plans.train_plan, name="train-plan"),
]
