"""Acts on a visit: on the way, there, nobody home, left."""

from __future__ import annotations

from jobs.forms.visits import CloseForm, NoAccessForm, UndoForm
from jobs.models import Visit
from jobs.workflows import visits
from jobs.workflows.acts import Done
from jobs.workflows.visit_closing import Ending, close_visit

from .doing import Doing, valid


def set_out(doing: Doing) -> Done:
    return _kept(visits.set_out(visit=doing.the_visit(), **doing.who))


def arrive(doing: Doing) -> Done:
    return _kept(visits.arrive(visit=doing.the_visit(), **doing.who))


def arrive_undo(doing: Doing) -> Done:
    visit, told = doing.the_visit(), valid(UndoForm(doing.post())).cleaned_data
    return _kept(visits.undo_arrival(visit=visit, reason=told["reason"], **doing.who))


def no_access(doing: Doing) -> Done:
    visit, told = doing.the_visit(), valid(NoAccessForm(doing.post())).cleaned_data
    return _kept(visits.no_access(visit=visit, note=told["note"], **doing.who))


def visit_close(doing: Doing) -> Done:
    visit = doing.the_visit()
    told = valid(CloseForm(doing.post(), visit=visit)).cleaned_data
    return _kept(close_visit(visit=visit, ending=Ending(**told), **doing.who))


def _kept(visit: Visit) -> Done:
    return Done(version=visit.version, visit=visit)
