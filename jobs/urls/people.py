from django.urls import URLPattern, path

from jobs.views import people, phones

urlpatterns: list[URLPattern] = [
    path("people/", people.people, name="people"),
    path("people/new/", people.person_new, name="person-new"),
    path("people/<int:pk>/", people.person_edit, name="person-edit"),
    path("people/<int:pk>/close/", people.person_close, name="person-close"),
    path("people/<int:pk>/open/", people.person_open, name="person-open"),
    path("people/<int:pk>/link/", people.person_link, name="person-link"),
    path("phones/", phones.phones, name="phones"),
    path("phones/<int:pk>/lost/", phones.phone_lost, name="phone-lost"),
    path("phones/<int:pk>/found/", phones.phone_found, name="phone-found"),
    path("people/<int:pk>/licences/", people.skill_keep, name="skill-keep"),
    path("people/<int:pk>/licences/<int:skill>/end/", people.skill_end, name="skill-end"),
]
