"""Questions of the dial-back as its templates take them where there are no forms.

A phone asks with these what `jobs/forms/dial_steps.py` asks on a server; the words are the same
(`jobs/fieldwork/dial_words.py`), and a test compares the HTML.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from html import escape

from equipment.engineering.names import Oxidant
from jobs.fieldwork import dial_words as words
from jobs.fieldwork.dialling import LABELS, band_choices

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

    @property
    def auto_id(self) -> str:
        return f"id_{self.name}"

    @property
    def id_for_label(self) -> str:
        return "" if self.choices else self.auto_id

    @property
    def use_fieldset(self) -> bool:
        return bool(self.choices)

    @property
    def aria_describedby(self) -> str:
        return f"{self.auto_id}_helptext" if self.help_text else ""

    def __iter__(self) -> Iterator[LookTile]:
        for number, (value, said) in enumerate(self.choices):
            yield LookTile({"value": value}, said, f"{self.auto_id}_{number}", value == self.value)

    def control(self, kind: str = "") -> str:
        """The box itself."""
        rows = {"type": "text", "name": self.name, "value": self.value}
        if kind == "figure":
            rows |= {"inputmode": "decimal", "autocomplete": "off"}
        rows |= {"aria-describedby": self.aria_describedby}
        said = " ".join(f'{name}="{escape(value)}"' for name, value in rows.items() if value)
        required = " required" if self.field.required else ""
        return Markup(f'<input {said}{required} id="{self.auto_id}">')

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
