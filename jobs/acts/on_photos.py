"""A photo of a record or a visit: its bytes arrived before, the act says what they show."""

from __future__ import annotations

from jobs.errors import BadEntry
from jobs.forms.photos import WordsForm, shows_of, uuid_in
from jobs.models import Picture
from jobs.workflows import photos
from jobs.workflows.acts import Done

from .doing import Doing, valid, visit_of


def photo(doing: Doing) -> Done:
    number = uuid_in(doing.text("photo"))
    picture = Picture.objects.filter(uuid=number, by=doing.by).first() if number else None
    if picture is None:
        raise BadEntry("The picture has not arrived. Take it again.", field="photo")
    words = valid(WordsForm(doing.post())).cleaned_data
    told = {"pictures": [picture], "shows": shows_of(words, doing.text("shows")), **doing.who}
    if doing.record_name is None:
        visit = doing.the_visit()
        photos.add_to_visit(visit=visit, **told)
        return Done(visit=visit)
    record = doing.the_record()
    visit_there = doing.visit or visit_of(record, doing.by)
    photos.add_to_record(record=record, visit=visit_there, **told)
    return Done(record=record, visit=visit_there)
