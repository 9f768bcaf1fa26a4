from django.urls import URLPattern, path

from jobs.views import recalls

urlpatterns: list[URLPattern] = [
    path("recalls/", recalls.recalls, name="recall-list"),
    path("recalls/new/", recalls.recall_new, name="recall-new"),
    path("recalls/<int:pk>/", recalls.recall_detail, name="recall-detail"),
    path("recalls/<int:pk>/file/", recalls.recall_file, name="recall-file"),
    path("recalls/<int:pk>/letters/", recalls.recall_letters, name="recall-letters"),
    path("recalls/<int:pk>/houses/<int:site>/", recalls.recall_tell, name="recall-tell"),
    path("recalls/<int:pk>/close/", recalls.recall_close, name="recall-close"),
    path("recalls/<int:pk>/again/", recalls.recall_again, name="recall-again"),
    path("recalled/<int:pk>/settle/", recalls.piece_settle, name="piece-settle"),
    path("recalled/<int:pk>/back/", recalls.piece_back, name="piece-back"),
]
