"""The page of a call as a browser sends it."""

import re

from django.urls import reverse


def opened(client, **asked):
    """What the page holds as it is opened, as a browser would send it back."""
    html = client.get(reverse("call-new"), asked).content.decode()
    return {
        name: re.search(rf'name="{name}" value="([^"]*)"', html)[1] for name in ("once", "call")
    }


def sent(client, **typed):
    """One press of a button of the page; `do` names it."""
    return client.post(reverse("call-new"), typed)


def shown(client, **typed):
    """What the choices stand at once a house is chosen."""
    form = client.post(reverse("call-house"), typed).context["form"]
    names = ("kind", "when", "told", "reported_on", "train", "answer_by")
    return {name: form[name].value() or "" for name in names}


def taken(client, site, **typed):
    """A call about a house, with what is offered left as it stands."""
    typed = {"house": site.pk, **opened(client), **typed}
    return sent(client, **{**shown(client, **typed), **typed})


def worklist(client):
    return " ".join(client.get(reverse("worklist")).content.decode().split())
