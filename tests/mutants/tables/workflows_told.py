"""Faults of who is told of a notice without a sample, and of one taken back."""

from tests.mutants.faults import in_file

FAULTS = [
    *in_file(
        "jobs/workflows/notice_telling.py",
        "notice_told",
        ("adult.check()\n", "\n"),
        ("customer=customer, is_taken_back=is_back)\n", "customer=customer)\n"),
        ("    if before:\n        return before\n", ""),
        ("        is_taken_back=is_back,\n        **adult.kept", "        **adult.kept"),
        ("[notice, *_of_other_wells(notice)]", "[notice]"),
        ("        _refuse_where_it_is_true(each)\n", ""),
        ("for promise in promised_by(notice):", "for promise in []:"),
        ("    notice_taken_back.write(notices=together, now=now)\n", ""),
        ("result_on__gte=since", "result_on__gt=since"),
    ),
    *in_file(
        "jobs/models/notice_told.py",
        "notice_told",
        ("Cause.FLOOD, Cause.OPENED,", "Cause.FLOOD,"),
        ("(OutboxMail.State.DEAD, OutboxMail.State.SKIPPED)", "()"),
        ('whole = told.filter(site=OuterRef("pk"), customer=None)', "whole = told.filter(pk=None)"),
        ("untold = must.filter(~Exists(knows), site", "untold = must.filter(site"),
        ("raised | _untold_back()", "raised"),
        (
            "tellings.filter(Q(customer=None) | Exists(still), ~Exists(back)",
            "tellings.filter(~Exists(back)",
        ),
        ("Exists(still), ~Exists(back), ~Exists(letters)", "Exists(still), ~Exists(letters)"),
        ("~Exists(back), ~Exists(letters)", "~Exists(back)"),
    ),
]
