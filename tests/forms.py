"""A form as the browser would send it back."""

from django.urls import reverse


def filled(client, address, *args):
    """What the page at that address sends where nobody changed anything."""
    page = client.get(reverse(address, args=[getattr(arg, "pk", arg) for arg in args])).context
    sent = {"seen": page["seen"]} if "seen" in page else {}
    for field in page["form"]:
        value = field.value()
        if value is True:
            sent[field.html_name] = "on"
        elif value is not None and value is not False and value != "":
            sent[field.html_name] = value
    return sent
