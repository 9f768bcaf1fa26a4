"""What the technician of the stories finds and types: a usual peroxide house.

Only what the story is about is told here; the product's own demo works out what passes for every
other line. Invented readings; the numbers computed from them are checked against published values
elsewhere.
"""

STARTUP = {
    "disinfect-scope": "here",
    "bypass-list": {"retention": "in_line", "feeder": "off", "filter": "bypassed",
                    "softener": "bypassed"},
    "chlorine-strength": "5.25 percent",
    "chlorine-poured": "2 gal",
    "chlorine-left": "60 mg/L",
    "sanitised": {"feeder": "tube and injection point rinsed with the chlorinated water",
                  "filter": "filled through its bypass for the same time",
                  "softener": "filled through its bypass for the same time"},
    "stop-first": "2",
    "stop-second": "2",
    "lot": "40-118",
    "next-regen": "Thursday",
    "tap-iron": "0.1 mg/L",
    "peroxide-after": "0.2 mg/L",
    "tap-hardness": "9 mg/L",
    "solution-strength": "71.6 g/L",
    "pump-flow": "8 gpm",
    "tap-flow": "5 gpm",
    "raw-iron": "3 mg/L",
    "raw-sulfide": "2 mg/L",
    "peroxide-retention": "8 mg/L",
}  # fmt: skip
#: the same person at a house that chlorine is fed to: one tank of carbon, no softener
CHLORINE = STARTUP | {
    "bypass-list": {"retention": "in_line", "feeder": "off", "filter": "bypassed"},
    "solution-strength": "13 g/L",
    "raw-iron": "2.2 mg/L",
    "raw-manganese": "<0.05 mg/L",
    "raw-sulfide": "0.3 mg/L",
    "raw-ph": "6.9",
    "tap-manganese": "<0.05 mg/L",
    "tap-sulfide": "<0.1 mg/L",
}
#: a dial-back: setting, and what the strip shows after the wait
STEPS = [("40", "25-50", "milky"), ("24", "5-10", "clear")]

#: what passes on an open record: text by the name of the box; nothing is kept
TYPED = """
import json
from django.utils import timezone
from jobs.demo.passing import all_entries
from jobs.models import ChecklistRecord
from jobs.records.loading import load_facts
now = timezone.now()
entries = all_entries(
    load_facts(ChecklistRecord.objects.get(pk={record}), now=now), {told}, now=now)
typed = {{}}
for place, entered in entries.items():
    part = place.line_key + (f".{{place.stage_id}}" if place.stage else "")
    part += f".{{place.tank}}" if place.tank else ""
    box = part + (f":{{place.side}}" if place.side else "")
    typed[box] = f"{{entered.text}} {{entered.unit}}".strip()
print(json.dumps(typed))
"""


def answers_for(product, record, told):
    return product.ask(TYPED.format(record=record, told=told))
