"""The socket the site listens on: handed over by the command that keeps it, or opened here."""

from __future__ import annotations

import os
import socket

from django.conf import settings

#: names the descriptor of a socket that listens already
VARIABLE = "LISTEN_SOCKET"


def open_socket() -> socket.socket:
    family = socket.AF_INET6 if ":" in settings.LISTEN_HOST else socket.AF_INET
    address = (settings.LISTEN_HOST.strip("[]"), settings.LISTEN_PORT)
    return socket.create_server(address, family=family, backlog=1024)


def handed_over_or_opened() -> socket.socket:
    number = os.environ.get(VARIABLE, "")
    return socket.socket(fileno=int(number)) if number else open_socket()
