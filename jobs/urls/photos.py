from django.urls import URLPattern, path

from jobs.views import photos

urlpatterns: list[URLPattern] = [
    path("field/photos/<uuid:uuid>", photos.photo_put, name="photo-put"),
    path("records/<int:pk>/photos/", photos.record_photos, name="record-photos"),
    path("visits/<int:pk>/photos/", photos.visit_photos, name="visit-photos"),
    path("photos/<int:pk>/", photos.photo_detail, name="photo-detail"),
    path("photos/<int:pk>/remove/", photos.photo_remove, name="photo-remove"),
    path("photos/<int:pk>/put-back/", photos.photo_put_back, name="photo-put-back"),
    path("photos/<int:pk>/picture/", photos.photo_picture, name="photo-picture"),
    path("photos/<int:pk>/small/", photos.photo_small, name="photo-small"),
]
