"""Reads settings from the environment; a wrong value ends in one sentence."""

import os
import re
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, available_timezones

import environ
from django.core.exceptions import ImproperlyConfigured

YES = {"yes", "true", "on", "1"}
NO = {"no", "false", "off", "0", ""}


class Environment(environ.Env):
    """django-environ, with errors that name the setting and say what would be right."""

    def whole_number(self, name: str, default: int, low: int, high: int) -> int:
        text: str = self.str(name, default=str(default)).strip()
        if not re.fullmatch(r"\d{1,10}", text) or not low <= int(text) <= high:
            raise ImproperlyConfigured(
                f"{name} must be a whole number from {low} to {high}, not {text!r}."
            )
        return int(text)

    def seconds(self, name: str, default: timedelta, low: int = 1) -> int:
        return self.whole_number(name, int(default.total_seconds()), low, 10**9)

    def yes_no(self, name: str, default: bool = False) -> bool:
        text: str = self.str(name, default="yes" if default else "no").strip().lower()
        if text not in YES | NO:
            raise ImproperlyConfigured(f"{name} must be yes or no, not {text!r}.")
        return text in YES

    def choice(self, name: str, default: str, choices: Sequence[str]) -> str:
        text: str = self.str(name, default=default).strip()
        if text not in choices:
            raise ImproperlyConfigured(f"{name} must be one of {', '.join(choices)}; not {text!r}.")
        return text

    def zone(self, name: str, default: str) -> str:
        text: str = self.str(name, default=default).strip()
        if text not in available_timezones():
            raise ImproperlyConfigured(
                f"{name} must be a time zone such as America/New_York, not {text!r}."
            )
        return ZoneInfo(text).key

    def web_address(self, name: str, default: str) -> str:
        text: str = self.str(name, default=default).strip().rstrip("/")
        parts = urlsplit(text)
        if parts.scheme not in {"http", "https"} or not parts.hostname or parts.path:
            raise ImproperlyConfigured(
                f"{name} must look like https://jobs.example.com, without a path; not {text!r}."
            )
        return text

    def listen_address(self, name: str, default: str) -> tuple[str, int]:
        text: str = self.str(name, default=default).strip()
        host, colon, port = text.rpartition(":")
        if not (colon and host and port.isdecimal() and 0 < int(port) < 65536):
            raise ImproperlyConfigured(f"{name} must look like 127.0.0.1:8000, not {text!r}.")
        return host, int(port)

    def url_of_kind(self, name: str, default: str, kinds: Sequence[str]) -> str:
        text: str = self.str(name, default=default).strip()
        kind = text.partition("://")[0]
        if "://" not in text or kind not in kinds:
            raise ImproperlyConfigured(
                f"{name} must start with one of {', '.join(f'{kind}://' for kind in kinds)}."
            )
        return text


def read_environment(base_dir: Path) -> tuple[Environment, bool]:
    """The environment, and whether this is a bare start (no .env, no folders, no key).

    An installation's `.env` is left alone by tests and by commands that run bare.
    """
    env = Environment()
    bare = os.environ.get("BARE_START") == "yes"
    if bare:
        env.ENVIRON = {"DEPLOYMENT": "test"}
    elif os.environ.get("DEPLOYMENT") != "test" and (base_dir / ".env").is_file():
        environ.Env.read_env(base_dir / ".env")
    return env, bare
