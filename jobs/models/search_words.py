from __future__ import annotations

from django.db import models


class SearchWord(models.Model):
    """One word of a house: of its address, of whoever held it, of its wells and parts.

    Made from other rows and made anew at any time; never edited. Belongs to no foreign key, so
    that writing it locks no other row.
    """

    class Kind(models.TextChoices):
        NAME = "name", "name"
        PHONE = "phone", "phone"
        EMAIL = "email", "email"
        ADDRESS = "address", "address"
        PARCEL = "parcel", "parcel"
        TAG = "tag", "well tag"
        SERIAL = "serial", "serial"

    text = models.CharField(max_length=60)
    kind = models.CharField(max_length=7, choices=Kind)
    #: the house; of a customer who holds none, minus the number of the customer
    place = models.BigIntegerField()
    #: the row the word comes from: customer, house, well or part, as the kind tells
    source = models.BigIntegerField()

    class Meta:
        indexes = [
            models.Index(fields=["text", "place", "kind", "source"], name="search_word"),
            models.Index(fields=["source", "kind"], name="search_word_source"),
        ]

    def __str__(self) -> str:
        return f"{self.text} ({self.kind})"


class SearchPiece(models.Model):
    """The dictionary of the words: each once as a whole (no piece), and by its three-letter
    pieces. Two writers of one new word may both add it: no reader minds, and none waits.
    """

    piece = models.CharField(max_length=3, blank=True)
    word = models.CharField(max_length=60)

    class Meta:
        indexes = [models.Index(fields=["piece", "word"], name="search_piece")]

    def __str__(self) -> str:
        return f"{self.piece or 'whole'}: {self.word}"
