"""What an act of the history is called, and what of its details is said."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.utils import timezone
from django.utils.formats import date_format

from jobs.wording.names import capital

#: verbs that do not read as they are kept
VERBS = {
    "act_noted": "noted an entry that came too late",
    "added_line": "added a line",
    "answer_refused": "typed what cannot be",
    "arrival_undone": "took an arrival back",
    "began": "entered",
    "call_answered": "answered a call",
    "call_kept": "took a call",
    "call_taken_back": "took a call back",
    "callback_decided": "decided whether it was a callback",
    "cause_changed": "changed the cause",
    "cause_confirmed": "confirmed the cause",
    "changed_line": "changed a line",
    "charged": "said what is charged",
    "clinic_told": "told the clinic",
    "closed_account": "closed the account",
    "created": "entered",
    "customer_cancel": "asked to cancel",
    "customer_confirm": "said that the time suits",
    "customer_move": "asked for another time",
    "handover_corrected": "corrected who handed over, or when",
    "licence_corrected": "corrected a licence",
    "licence_entered": "entered a licence",
    "licence_in_use_again": "took a licence into use again",
    "licence_out_of_use": "left a licence out of use",
    "licence_renewed": "renewed a licence",
    "line_as_shipped": "put a line back as shipped",
    "loss_withdrawn": "withdrew that we lost sight of it",
    "mail_answered_for": "noted that a message arrived",
    "mail_refused": "address refused by the mail server",
    "mail_released": "released held messages",
    "mail_sent_again": "sent a message again",
    "mail_stopped": "asked for no more mail",
    "marked": "wrote serial number and lot",
    "moved_line": "moved a line",
    "notice_back": "put a notice back",
    "notice_back_told": "told that a notice is back",
    "notice_graver": "made a notice graver",
    "notice_held": "took a notice as held by treatment",
    "notice_lifted": "lifted a notice",
    "notice_opened": "raised a notice",
    "notice_taken_back": "took a notice of the wrong house back",
    "notice_told": "told of a notice",
    "opened_account": "opened the account",
    "overridden": "passed over a gate",
    "override_taken_back": "took a passing over back",
    "phone_found": "phone found again",
    "phone_lost": "phone reported lost",
    "photo_put_back": "put a photo back",
    "photo_removed": "removed a photo",
    "photo_withdrawn": "took a photo off a print",
    "pour_told": "told what was poured in",
    "not_reached": "followed the house no more: nobody can be reached",
    "proposed": "proposed a time",
    "put_off": "put off",
    "recall_closed": "closed a recall",
    "recall_open_again": "opened a recall again",
    "recall_opened": "opened a recall",
    "recall_told": "told of a recall",
    "recall_written": "wrote to households of a recall",
    "recalled_again": "put a piece back on the list of a recall",
    "recalled_ended": "worked off a piece of a recall",
    "reached_again": "reached the house again",
    "record_closed": "closed the record",
    "record_corrected": "corrected the record",
    "record_opened": "opened the record",
    "report_corrected": "corrected what was reported",
    "requests_handled": "settled the requests",
    "result": "entered the result",
    "result_told": "told the result",
    "sampled": "took a sample",
    "sent_link": "sent a link to sign in",
    "service_ended": "ended our service",
    "taken_back_told": "told that a notice was a mistake",
    "took_out_line": "took a line out",
    "setting_kept": "set the dosing pump",
    "setting_left": "ended the dial-back",
    "timer_restarted": "started a wait again",
    "timer_started": "started a wait",
    "use_noted": "noted a use of the water",
    "visit_told": "told the customer",
    "visit_waits": "made the visit wait",
    "visit_waits_no_more": "ended the waiting",
    "visits_given": "gave the visits to others",
    "waived": "gave up",
    "water_off": "noted that the system is off",
    "water_on": "noted that the system is on again",
}
#: details that people read, in this order; numbers of other rows are none
SAID = (
    "roles",
    "before",
    "fields",
    "kind",
    "charge",
    "level",
    "cause",
    "outcome",
    "purpose",
    "answer",
    "quantity",
    "line",
    "typed",
    "unit",
    "setting",
    "step",
    "found",
    "strips",
    "minutes",
    "span",
    "was",
    "day",
    "on",
    "until",
    "how",
    "end",
    "why",
    "lost",
)
#: details whose name alone says too little
CALLED = {"before": "Before", "fields": "Also changed", "lost": "Entries lost", "on": "Day"}
#: what a detail that is a span of time keeps
SPAN = ("starts", "ends")
#: who acts where nobody of the company does
CUSTOMER, PROGRAM = "the customer", "the program"


def verb_words(verb: str) -> str:
    return VERBS.get(verb, verb.replace("_", " "))


def details(data: Mapping[str, object]) -> tuple[tuple[str, str], ...]:
    """(name, what it says) of what stands in an act's data; empty ones are left out."""
    found = ((name, _said(data[name])) for name in SAID if name in data)
    return tuple((CALLED.get(name, capital(name)), said) for name, said in found if said)


def _said(value: object) -> str:
    if isinstance(value, dict):
        return " to ".join(_moment(str(value[end])) for end in SPAN if value.get(end))
    if isinstance(value, list):
        return ", ".join(str(each) for each in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "" if value is None else str(value).replace("_", " ")


def _moment(text: str) -> str:
    return date_format(timezone.localtime(datetime.fromisoformat(text)), "j M Y, H:i")


def nobody_of_ours(verb: str) -> str:
    is_customer = verb.startswith("customer_") or verb == "mail_stopped"
    return CUSTOMER if is_customer else PROGRAM
