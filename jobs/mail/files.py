"""Mail as files: one .eml for each message, complete or absent, never half written."""

import os
import re
import uuid
from collections.abc import Sequence
from pathlib import Path

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend


class FileMailBackend(BaseEmailBackend):
    """Writes each message to EMAIL_FILE_PATH under its Message-ID.

    A message sent twice lands in the same file, as a mailbox that knows the
    Message-ID would show it once.
    """

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        folder = Path(settings.EMAIL_FILE_PATH)
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        return sum(_write(folder, message) for message in email_messages if message.recipients())


def _write(folder: Path, message: EmailMessage) -> int:
    mime = message.message()
    name = file_name(str(mime["Message-ID"]))
    draft = folder / f".{name}.{uuid.uuid4().hex}"
    try:
        with open(draft, "xb", opener=_private) as file:
            file.write(mime.as_bytes())
            file.flush()
            os.fsync(file.fileno())
        draft.rename(folder / f"{name}.eml")
    finally:
        draft.unlink(missing_ok=True)
    return 1


def _private(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)


def file_name(message_id: str) -> str:
    return re.sub(r"[^A-Za-z0-9._@+-]", "_", message_id.strip("<> "))[:200].lstrip(".")
