"""What becomes of an act that was not applied."""

from __future__ import annotations

from django import forms


class NotedForm(forms.Form):
    words = forms.CharField(
        max_length=200,
        label="What becomes of it",
        help_text="Your name and the time are kept with it. What was typed stays on file.",
        error_messages={"required": "Say what becomes of it."},
    )
