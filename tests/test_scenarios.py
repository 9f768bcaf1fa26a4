"""What may happen to a phone, and the test that shows how it ends: each scenario has one."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent
#: by number: what happens, and where it is shown
SCENARIOS = {
    1: ("a record opened without signal", "browser/test_without_signal.py:day_that_was_taken"),
    2: ("a figure as the office says it later", "browser/test_numbers_on_the_phone.py:follows_the"),
    3: ("killed between key and leaving", "browser/test_killed.py:between_a_key_and_leaving"),
    4: ("killed as the box was left", "browser/test_killed.py:after_leaving_the_box"),
    5: ("killed while it is sent", "browser/test_killed.py:while_it_is_sent"),
    6: ("office ends before it has written", "jobs/acts/test_schedules.py:judged_once_whatever"),
    7: ("office ends before it is for good", "jobs/acts/test_schedules.py:judged_once_whatever"),
    8: ("office ends before it has answered", "browser/test_kept.py:answer_that_is_lost"),
    9: ("thirty acts, killed servers", "browser/test_newer_app.py:thirty_acts_over_servers"),
    10: ("the same act from two tabs", "jobs/acts/test_door.py:two_tabs_at_the_same_moment"),
    11: ("a name with another content", "jobs/acts/test_door.py:same_name_with_another_content"),
    12: ("a name of somebody else", "jobs/acts/test_door.py:name_of_somebody_elses_act"),
    13: ("two phones, one box", "browser/test_saving.py:of_two_values_both_are_shown"),
    14: ("two acts on one box", "browser/test_saving.py:two_acts_on_one_box_are_no"),
    15: ("the first of two refused", "jobs/acts/test_door.py:also_where_the_first_was_refused"),
    16: ("record closed meanwhile", "jobs/acts/test_door.py:record_was_closed_meanwhile"),
    17: ("not a number among good ones", "browser/test_saving.py:what_is_no_number_is_refused"),
    18: ("nobody told meanwhile", "jobs/acts/test_door.py:contact_time_is_refused_where"),
    19: ("part replaced meanwhile", "jobs/acts/test_door.py:part_was_replaced_meanwhile"),
    20: ("session ended", "browser/test_saving.py:ended_session_keeps_everything"),
    21: ("somebody else signs in", "browser/test_saving.py:another_person_on_the_phone"),
    22: ("signing out with acts", "browser/test_saving.py:signing_out_with_acts_that_wait"),
    23: ("a wrong clock, moved", "browser/test_saving.py:wrong_clock_moved_meanwhile"),
    24: ("a newer app while acts wait", "browser/test_newer_app.py:newer_app_waits_until"),
    25: ("a newer database, killed", "browser/test_newer_app.py:database_takes_a_newer_shape"),
    26: ("no room for an entry", "browser/test_saving.py:full_phone_says_so_and_the_entry"),
    27: ("storage cleared by the browser", "browser/test_phone_in_trouble.py:browser_has_cleared"),
    28: ("no WebAssembly", "browser/test_phone_in_trouble.py:without_webassembly_entries"),
    29: ("a line that says nothing", "browser/test_phone_in_trouble.py:line_that_says_nothing"),
    30: ("a photo, killed at each step", "browser/test_killed.py:photo_is_on_its_way"),
    31: ("switched off while acts wait", "browser/test_saving.py:switched_off_what_waits"),
    32: ("visit went to a colleague", "jobs/acts/test_door.py:visit_went_to_a_colleague"),
    33: ("a slow phone", "browser/test_numbers_on_the_phone.py:slow_phone_works_out_what_stands"),
}


#: what changes while an act waits on a phone, and where the answer to it is shown
MEANWHILE = {
    "somebody put another value": "browser/test_saving.py:of_two_values_both_are_shown",
    "somebody put the same value": "jobs/acts/test_door.py:same_value_of_two_people",
    "the record was closed": "jobs/acts/test_door.py:record_was_closed_meanwhile",
    "the visit went to somebody else": "jobs/acts/test_door.py:visit_went_to_a_colleague",
    "the visit was cancelled": "jobs/acts/test_changed_meanwhile.py:cancelled_keeps_every_word",
    "a notice was raised": "jobs/acts/test_changed_meanwhile.py:over_a_notice_readings",
    "dialysis was noted": "jobs/acts/test_door.py:dialysis_was_noted_meanwhile",
    "the part was replaced": "jobs/acts/test_door.py:part_was_replaced_meanwhile",
    "the checklist was changed": "jobs/acts/test_changed_meanwhile.py:record_keeps_the_checklist",
    "a limit was changed": "jobs/acts/test_changed_meanwhile.py:passes_by_the_limit_on_the_phone",
    "an earlier act was refused": "jobs/acts/test_door.py:also_where_the_first_was_refused",
    "the session ended": "browser/test_saving.py:ended_session_keeps_everything",
    "two tabs": "browser/test_kept.py:one_effect_from_two_tabs",
    "two phones": "jobs/acts/test_steps_named.py:steps_that_two_phones_counted",
    "a newer app": "browser/test_newer_app.py:newer_app_waits_until",
    "a kit older than the app": "browser/test_changed_meanwhile.py:day_taken_along_by_a_former",
    "the phone is full": "browser/test_saving.py:full_phone_says_so_and_the_entry",
    "no WebAssembly": "browser/test_phone_in_trouble.py:without_webassembly_entries",
    "Python was ended by the phone": "browser/test_changed_meanwhile.py:python_that_the_phone_has",
}
SHOWN = {str(number): place for number, (_, place) in SCENARIOS.items()} | MEANWHILE


@pytest.mark.parametrize("named", SHOWN)
def test_each_scenario_is_shown_by_one_test(named):
    path, _, words = SHOWN[named].partition(":")
    tree = ast.parse((ROOT / path).read_text())
    names = [node.name for node in tree.body if isinstance(node, ast.FunctionDef)]
    assert len([name for name in names if name.startswith("test_") and words in name]) == 1
