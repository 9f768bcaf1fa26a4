"""Faults of what stands beside a line: figures to take over, new carbon, the rule of a state."""

from tests.mutants.faults import in_file

FAULTS = [
    *in_file(
        "jobs/fieldwork/largest.py",
        "left_too_high",
        ("if not largest.is_passed_by(dose):", "if True:"),
        ("if largest_of(outcomes) is None:", "if False:"),
        ("if setting is None:", "if False:"),
        ("oxidant == Oxidant.PERMANGANATE else None", "not oxidant else None"),
    ),
    *in_file(
        "jobs/fieldwork/kinds.py",
        "lifted_on_its_own_cause",
        ("if cause == NoticeCause.OTHER:", "if False:"),
        ("or cause == NoticeCause.OXIDANT:", "or False:"),
    ),
    *in_file(
        "jobs/fieldwork/offers.py",
        "taken_over",
        ("offer.at >= began", "offer.at <= began"),
        ("return writes and not record.is_closed", "return not record.is_closed"),
        ("return writes and not record.is_closed", "return writes"),
        ("writes=writes) or item.text", "writes=writes)"),
        ("if not ended or ended[-1] != CLEAR_JAR:", "if not ended:"),
        (', (time.box(), "60", "s"))', ",)"),
    ),
    *in_file(
        "jobs/fieldwork/offers.py",
        "led_by_the_hand",
    ),
    *in_file(
        "jobs/fieldwork/standing.py",
        "led_by_the_hand",
        ("if len(found) >= SEVERAL", "if len(found) > SEVERAL"),
        ("math.floor\n", "math.ceil\n"),
        ("math.ceil)", "math.floor)"),
        ("item.sides[-1]", "item.sides[0]"),
    ),
    *in_file(
        "jobs/phone/part.py",
        "led_by_the_hand",
        ("any(item.state == OPEN for item in kept)", "False"),
        ("later[0].title if later else", "page.title if later else"),
        ("and other.key != item.key and not other.text", "and not other.text"),
        ("    if rows:\n        _add_echoes(", "    if not rows:\n        _add_echoes("),
        ("row.passes_found = sheet.is_startup", "row.passes_found = False"),
    ),
    *in_file(
        "jobs/phone/rows.py",
        "led_by_the_hand",
        ("asked and not self.item.filed", "asked"),
        ("asked = self.line.required or self.line.is_gate", "asked = True"),
    ),
    *in_file(
        "jobs/fieldwork/glasses.py",
        "taken_over",
        ("block=block, system=system, writes=writes)", "block=block, system=system)"),
        ("if item.line.block == block and item.line.key in", "if item.line.key in"),
    ),
    *in_file(
        "jobs/phone/part.py",
        "taken_over",
        ("row, writes=look.writes)", "row, writes=True)"),
    ),
    *in_file(
        "jobs/fieldwork/new_carbon.py",
        "new_carbon",
        ("if scope in NEW_MEDIA:", "if False:"),
        ("and not asked.has_sulfide:", "and False:"),
        ("scope != TAKEN_OVER and any", "any"),
        ("days < NEW_DAYS", "days < 0"),
    ),
    *in_file(
        "jobs/fieldwork/brine.py",
        "brine_drain",
        ("NAMES.get(word, word)", "word"),
        ("if rule := rule_of(region):", "if False:"),
    ),
    *in_file(
        "jobs/fieldwork/gates.py",
        "brine_drain",
        ("not rule.bars_septic or item.text != SEPTIC", "item.text != SEPTIC"),
        ("not rule.bars_septic or item.text != SEPTIC:", "not rule.bars_septic:"),
    ),
    *in_file(
        "jobs/fieldwork/together.py",
        "led_by_the_hand",
        ("or any(step.text for step in steps)", "or False"),
        ("sheet.item(key, item.stage)", "sheet.item(key)"),
        ("or any(each.text for each in parts)", "or False"),
        ("parts[0].key != item.key or", "False or"),
        ('PartKind.RETENTION: "in_line"', "PartKind.RETENTION: BYPASSED"),
    ),
]
