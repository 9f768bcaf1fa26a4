"""What a story of the desk may cost: the table in DEVELOPERS.md is the limit of its test."""

import re

from .product import ROOT

ROW = re.compile(r"^\| ([a-z][^|]+?) \| (\d+) \| (\d+) \|", re.MULTILINE)


def written():
    """story: (actions, letters)"""
    text = (ROOT / "DEVELOPERS.md").read_text()
    table = text.partition("## The desk's hard days, beside paper")[2].partition("\n## ")[0]
    return {story: (int(actions), int(letters)) for story, actions, letters in ROW.findall(table)}


def keeps(story, act, letters):
    """No more than is written; one more where the page asked whether a second visit is meant."""
    actions, sent = written()[story]
    assert act.actions <= actions + act.asked_twice, (story, act.actions, actions)
    assert len(letters) == sent, (story, letters)
