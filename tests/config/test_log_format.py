"""Log lines carry ids, never people."""

import logging

import pytest

from config.log_format import IdsOnlyFormatter, NotLateHealth, without_personal_values


@pytest.mark.parametrize(
    ("line", "kept"),
    [
        ("refused by ana.birch+1@example.com.", "refused by [address]."),
        ("DETAIL: Key (email)=(ana@example.com) exists", "DETAIL: Key (email)=([address]) exists"),
        ("to <ana@mail.example.com>", "to <[address]>"),
        ("call (212) 555-0142 now", "call [phone] now"),
        ("call 212-555-0142", "call [phone]"),
        ("phone +12125550142", "phone [phone]"),
        ("GET /calendar/q8Zr1xV0aM3bN5cK7dL9eQ2w/", "GET /calendar/[key]/"),
        (
            "GET /password/new/MTc/d2k9xq-0123456789abcdef0123456789abcdef/",
            "GET /password/new/MTc/[key]/",
        ),
        (
            "Not Found: /c/eyJ2IjoxfQ:1tQxYz:AbC-dEf_123456789012345678901234567/",
            "Not Found: /c/[key]/",
        ),
    ],
)
def test_personal_values_are_taken_out(line, kept):
    assert without_personal_values(line) == kept


@pytest.mark.parametrize(
    "line",
    [
        "visit 1234 closed by 17",
        "task jobs.tasks.tick[0b1f6c3e-9d39-4f0e-8a57-1d2c3b4a5f60] succeeded in 0.021s",
        "2026-06-10 14:00:00,123 WARNING django.request Not Found: /visits/12345/start-up/",
        "occasion 0b1f6c3e-9d39-4f0e-8a57-1d2c3b4a5f60",
        "django.db.utils.IntegrityError: UNIQUE constraint failed: jobs_outboxmail.key",
    ],
)
def test_ids_and_names_of_things_stay(line):
    assert without_personal_values(line) == line


def test_tracebacks_are_cleaned_too():
    try:
        raise ValueError("ana@example.com")
    except ValueError as error:
        record = logging.LogRecord(
            "x", logging.ERROR, "x.py", 1, "failed", None, (ValueError, error, error.__traceback__)
        )
    text = IdsOnlyFormatter("%(message)s").format(record)
    assert "Traceback" in text
    assert "example.com" not in text


@pytest.mark.parametrize(
    ("path", "status", "kept"),
    [("/healthz", 503, False), ("/healthz", 500, True), ("/day/", 503, True)],
)
def test_only_a_late_health_answer_is_left_out(rf, path, status, kept):
    record = logging.LogRecord("django.request", logging.ERROR, "x.py", 1, "%s", (path,), None)
    record.request, record.status_code = rf.get(path), status
    assert NotLateHealth().filter(record) is kept
