"""Questions of the dial-back as its templates take them where there are no forms.

A phone asks with these what `jobs/forms/dial_steps.py` and `jobs/forms/strips.py` ask on a server;
the words are the same (`jobs/fieldwork/dial_words.py`), and a test compares the HTML.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from html import escape
from typing import Any

from equipment.engineering.names import Oxidant
from jobs.fieldwork import dial_words as words
from jobs.fieldwork.dialling import LABELS, band_choices
from jobs.fieldwork.facts_beside import Beside
from jobs.wording.strips import strips_said

from .rows import LookTile


class Markup(str):
    """Text that is HTML already."""

    __slots__ = ()

    def __html__(self) -> str:
        return str(self)


@dataclass(frozen=True)
class Field:
    """What a template asks of the field behind a box."""

    required: bool = False
    unit: str = ""
    optional: str = ""
    warning: str = ""


@dataclass(frozen=True, kw_only=True)
class Ask:
    """A box, or radio buttons, as a bound field of a form shows itself."""

    name: str
    label: str
    field: Field = Field()
    help_text: str = ""
    value: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    errors: tuple[str, ...] = ()
    is_hidden: bool = False
    #: of the box: text, date, or a list to choose from
    kind: str = "text"
    longest: int = 0

    @property
    def auto_id(self) -> str:
        return f"id_{self.name}"

    @property
    def id_for_label(self) -> str:
        return "" if self.use_fieldset else self.auto_id

    @property
    def use_fieldset(self) -> bool:
        return bool(self.choices) and self.kind != "list"

    @property
    def aria_describedby(self) -> str:
        return f"{self.auto_id}_helptext" if self.help_text else ""

    def __iter__(self) -> Iterator[LookTile]:
        for number, (value, said) in enumerate(self.choices):
            yield LookTile({"value": value}, said, f"{self.auto_id}_{number}", value == self.value)

    def control(self, kind: str = "") -> str:
        """The box itself."""
        rows = {} if self.kind == "list" else {"type": self.kind}
        rows |= {"name": self.name, "value": "" if self.kind == "list" else self.value}
        if kind == "figure":
            rows |= {"inputmode": "decimal", "autocomplete": "off"}
        rows |= {"maxlength": str(self.longest or ""), "aria-describedby": self.aria_describedby}
        said = " ".join(f'{name}="{escape(value)}"' for name, value in rows.items() if value)
        if self.kind == "list":
            options = "".join(map(self._option, self.choices))
            return Markup(f'<select {said} id="{self.auto_id}">{options}\n\n</select>')
        required = " required" if self.field.required else ""
        return Markup(f'<input {said}{required} id="{self.auto_id}">')

    def _option(self, choice: tuple[str, str]) -> str:
        value, said = choice
        selected = " selected" if value == self.value else ""
        return f'\n  <option value="{escape(value)}"{selected}>{escape(said)}</option>\n'

    def __html__(self) -> str:
        """Its radio buttons; the engine asks for them as text."""
        return Markup(f'<div id="{self.auto_id}">{"".join(map(self._radio, self))}\n</div>')

    def _radio(self, tile: LookTile) -> str:
        place, value = tile.id_for_label, escape(str(tile.data["value"]))
        checked = " checked" if tile.is_chosen else ""
        button = f'<input type="radio" name="{self.name}" value="{value}" id="{place}"{checked}>'
        said = escape(tile.choice_label)
        return f'<div>\n    <label for="{place}">{button}\n {said}</label>\n\n</div>'

    __str__ = __html__


@dataclass(frozen=True)
class SetAsks:
    """What was set: the figures of this pump first."""

    figures: tuple[str, ...]
    offered: Mapping[str, str] = field(default_factory=dict)
    errors: Mapping[str, str] = field(default_factory=dict)

    @property
    def set_by(self) -> list[Ask]:
        said = words.set_by(self.figures)
        return [
            Ask(
                name=name,
                label=said[name],
                field=Field(required=True, unit=LABELS[name][1]),
                value=self.offered.get(name, ""),
            )
            for name in self.figures
        ]

    @property
    def drawdown_ml_min(self) -> Ask:
        return self._more("drawdown_ml_min", help_text=words.DRAWDOWN_HELP)

    @property
    def tap_flow_gpm(self) -> Ask:
        return self._more("tap_flow_gpm")

    def _more(self, name: str, help_text: str = "") -> Ask:
        return Ask(
            name=name,
            label=words.MORE[name],
            help_text=help_text,
            field=Field(unit=LABELS[name][1]),
        )


@dataclass(frozen=True)
class ReadAsks:
    """What glass, strip and nose say."""

    oxidant: str

    @property
    def look(self) -> Ask:
        return Ask(
            name="look",
            label=words.LOOK,
            help_text=words.LOOK_HELP,
            choices=words.LOOKS,
            field=Field(required=True),
        )

    @property
    def band(self) -> Ask:
        is_colour = self.oxidant == Oxidant.PERMANGANATE
        label = words.BAND_BY_COLOUR if is_colour else words.BAND
        return Ask(name="band", label=label, choices=tuple(band_choices(self.oxidant)))

    @property
    def meter(self) -> Ask:
        return Ask(name="meter", label=words.METER, field=Field(unit=LABELS["residual"][1]))

    @property
    def iron_clear(self) -> Ask:
        return self._yes_no("iron_clear")

    @property
    def odour_clear(self) -> Ask:
        return self._yes_no("odour_clear")

    @property
    def colour_gone(self) -> Ask | None:
        return self._yes_no("colour_gone") if self.oxidant == Oxidant.PERMANGANATE else None

    def _yes_no(self, name: str) -> Ask:
        return Ask(name=name, label=words.ASKED_AT_TAP[name], choices=words.YES_NO)


@dataclass(frozen=True)
class StripsAsks:
    """Which strips, and what they read of nothing and of a known mix."""

    oxidant: str
    beside: Beside
    errors: Mapping[str, str] = field(default_factory=dict)

    def __iter__(self) -> Iterator[Ask]:
        bands = (words.NOT_LOOKED, *band_choices(self.oxidant))
        yield self._list("lot", self._lots(), str(self.beside.strips_lot or ""))
        yield self._ask("new_lot", longest=words.LONGEST_LOT)
        yield self._ask("expires_on", kind="date")
        yield self._list("blank", bands, help_text=words.BLANK_HELP)
        if said := words.mix_help(self.oxidant):
            yield self._list("mix", bands, help_text=said)

    def _lots(self) -> tuple[tuple[str, str], ...]:
        """Those the office knows; one that was written here a moment ago has no number yet."""
        known = [lot for lot in self.beside.lots if lot.oxidant == self.oxidant and lot.pk]
        rows = ((str(lot.pk), strips_said(lot)) for lot in known)
        return (("", words.ANOTHER_BOTTLE), *rows)

    def _list(
        self, name: str, choices: tuple[tuple[str, str], ...], value: str = "", help_text: str = ""
    ) -> Ask:
        return self._ask(name, kind="list", choices=choices, value=value, help_text=help_text)

    def _ask(self, name: str, **more: Any) -> Ask:
        return Ask(name=name, label=words.STRIPS[name], **more)
