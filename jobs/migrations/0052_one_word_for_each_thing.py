import django.core.validators
from django.db import migrations, models


class Migration(migrations.Migration):
    """Forms and lists say contact tank, dosing pump, well pump and backwash."""

    dependencies = [
        ('jobs', '0051_phones'),
    ]

    operations = [
        migrations.AlterField(
            model_name='company',
            name='chlorine_high_mg_l',
            field=models.FloatField(default=2, verbose_name='free chlorine after the contact tank, most'),
        ),
        migrations.AlterField(
            model_name='company',
            name='chlorine_low_mg_l',
            field=models.FloatField(default=0.5, verbose_name='free chlorine after the contact tank, least'),
        ),
        migrations.AlterField(
            model_name='company',
            name='dose_swing_percent',
            field=models.FloatField(default=25, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(100)], verbose_name='dose of a dosing pump with a timer, largest swing from its mean'),
        ),
        migrations.AlterField(
            model_name='company',
            name='peroxide_high_mg_l',
            field=models.FloatField(default=15, verbose_name='peroxide after the contact tank, most'),
        ),
        migrations.AlterField(
            model_name='company',
            name='peroxide_low_mg_l',
            field=models.FloatField(default=5, verbose_name='peroxide after the contact tank, least'),
        ),
        migrations.AlterField(
            model_name='company',
            name='retention_minimum_min',
            field=models.FloatField(default=10, verbose_name='shortest time in the contact tank before the filter'),
        ),
        migrations.AlterField(
            model_name='followuprule',
            name='anchor',
            field=models.CharField(choices=[('event_day', 'the day of the event plus the offset'), ('working_days', 'the same, counted in working days'), ('refill_forecast', '20 percent level, solution age or company cap'), ('run_end', 'last fifth of a backwash run, three to six weeks on')], default='event_day', max_length=20),
        ),
        migrations.AlterField(
            model_name='followuprule',
            name='harm',
            field=models.PositiveSmallIntegerField(choices=[(1, 'no drinking'), (2, 'unread positive result'), (3, 'dosing pump left on without a recheck'), (4, 'recheck of the oxidant setting'), (5, 'refill'), (6, 'backwash or regeneration interval'), (7, 'annual test'), (8, 'other')], default=8),
        ),
        migrations.AlterField(
            model_name='historicalcompany',
            name='chlorine_high_mg_l',
            field=models.FloatField(default=2, verbose_name='free chlorine after the contact tank, most'),
        ),
        migrations.AlterField(
            model_name='historicalcompany',
            name='chlorine_low_mg_l',
            field=models.FloatField(default=0.5, verbose_name='free chlorine after the contact tank, least'),
        ),
        migrations.AlterField(
            model_name='historicalcompany',
            name='dose_swing_percent',
            field=models.FloatField(default=25, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(100)], verbose_name='dose of a dosing pump with a timer, largest swing from its mean'),
        ),
        migrations.AlterField(
            model_name='historicalcompany',
            name='peroxide_high_mg_l',
            field=models.FloatField(default=15, verbose_name='peroxide after the contact tank, most'),
        ),
        migrations.AlterField(
            model_name='historicalcompany',
            name='peroxide_low_mg_l',
            field=models.FloatField(default=5, verbose_name='peroxide after the contact tank, least'),
        ),
        migrations.AlterField(
            model_name='historicalcompany',
            name='retention_minimum_min',
            field=models.FloatField(default=10, verbose_name='shortest time in the contact tank before the filter'),
        ),
        migrations.AlterField(
            model_name='historicalfollowuprule',
            name='anchor',
            field=models.CharField(choices=[('event_day', 'the day of the event plus the offset'), ('working_days', 'the same, counted in working days'), ('refill_forecast', '20 percent level, solution age or company cap'), ('run_end', 'last fifth of a backwash run, three to six weeks on')], default='event_day', max_length=20),
        ),
        migrations.AlterField(
            model_name='historicalfollowuprule',
            name='harm',
            field=models.PositiveSmallIntegerField(choices=[(1, 'no drinking'), (2, 'unread positive result'), (3, 'dosing pump left on without a recheck'), (4, 'recheck of the oxidant setting'), (5, 'refill'), (6, 'backwash or regeneration interval'), (7, 'annual test'), (8, 'other')], default=8),
        ),
        migrations.AlterField(
            model_name='historicaljob',
            name='cause',
            field=models.CharField(blank=True, choices=[('A_leak', 'leak at a joint'), ('A_drain', 'drain or air gap'), ('A_injection', 'injection point'), ('A_wiring', 'dosing pump wiring or switching'), ('A_missed', 'a check was missed'), ('A_debris', 'debris in a valve'), ('A_bypass', 'bypass left wrong'), ('B_high', 'oxidant set too high'), ('B_low', 'oxidant set too low'), ('B_interval', 'interval set wrong'), ('B_clock', 'clock or program wrong'), ('C_backwash', 'backwash flow not available'), ('C_size', 'bed or contact tank too small'), ('C_medium', 'wrong medium or missing part'), ('D_test', 'wrong or missing water test'), ('E_equipment', 'equipment failed'), ('F_ran_out', 'solution or salt ran out'), ('F_weak', 'weak or wrong solution'), ('G_source', 'the well or its water changed'), ('H_house', 'house plumbing or heater'), ('I_customer', 'changed by the customer or others'), ('J_explain', 'needed explaining'), ('K_no_fault', 'no fault found'), ('L_unknown', 'not known')], max_length=14),
        ),
        migrations.AlterField(
            model_name='historicaljob',
            name='kind',
            field=models.CharField(choices=[('survey', 'Survey and water test'), ('sample', 'Sample'), ('install', 'Installation'), ('disinfect', 'Disinfection of well and plumbing'), ('startup', 'Start-up'), ('recheck', 'Recheck of the oxidant setting'), ('interval', 'Recheck of the backwash or regeneration interval'), ('refill', 'Refill'), ('service', 'Service'), ('rebed', 'New media'), ('repair', 'Repair'), ('callback', 'Callback'), ('removal', 'Removal'), ('other', 'Other')], max_length=10),
        ),
        migrations.AlterField(
            model_name='job',
            name='cause',
            field=models.CharField(blank=True, choices=[('A_leak', 'leak at a joint'), ('A_drain', 'drain or air gap'), ('A_injection', 'injection point'), ('A_wiring', 'dosing pump wiring or switching'), ('A_missed', 'a check was missed'), ('A_debris', 'debris in a valve'), ('A_bypass', 'bypass left wrong'), ('B_high', 'oxidant set too high'), ('B_low', 'oxidant set too low'), ('B_interval', 'interval set wrong'), ('B_clock', 'clock or program wrong'), ('C_backwash', 'backwash flow not available'), ('C_size', 'bed or contact tank too small'), ('C_medium', 'wrong medium or missing part'), ('D_test', 'wrong or missing water test'), ('E_equipment', 'equipment failed'), ('F_ran_out', 'solution or salt ran out'), ('F_weak', 'weak or wrong solution'), ('G_source', 'the well or its water changed'), ('H_house', 'house plumbing or heater'), ('I_customer', 'changed by the customer or others'), ('J_explain', 'needed explaining'), ('K_no_fault', 'no fault found'), ('L_unknown', 'not known')], max_length=14),
        ),
        migrations.AlterField(
            model_name='job',
            name='kind',
            field=models.CharField(choices=[('survey', 'Survey and water test'), ('sample', 'Sample'), ('install', 'Installation'), ('disinfect', 'Disinfection of well and plumbing'), ('startup', 'Start-up'), ('recheck', 'Recheck of the oxidant setting'), ('interval', 'Recheck of the backwash or regeneration interval'), ('refill', 'Refill'), ('service', 'Service'), ('rebed', 'New media'), ('repair', 'Repair'), ('callback', 'Callback'), ('removal', 'Removal'), ('other', 'Other')], max_length=10),
        ),
        migrations.AlterField(
            model_name='ruleversion',
            name='anchor',
            field=models.CharField(choices=[('event_day', 'the day of the event plus the offset'), ('working_days', 'the same, counted in working days'), ('refill_forecast', '20 percent level, solution age or company cap'), ('run_end', 'last fifth of a backwash run, three to six weeks on')], default='event_day', max_length=20),
        ),
        migrations.AlterField(
            model_name='ruleversion',
            name='harm',
            field=models.PositiveSmallIntegerField(choices=[(1, 'no drinking'), (2, 'unread positive result'), (3, 'dosing pump left on without a recheck'), (4, 'recheck of the oxidant setting'), (5, 'refill'), (6, 'backwash or regeneration interval'), (7, 'annual test'), (8, 'other')], default=8),
        ),
        migrations.AlterField(
            model_name='visit',
            name='bypass_left',
            field=models.CharField(blank=True, choices=[('none', 'no bypass here'), ('service', 'SERVICE (treated)'), ('bypassed', 'BYPASS (untreated, unplug the dosing pump)')], max_length=10),
        ),
        migrations.AlterField(
            model_name='visit',
            name='feeder_left',
            field=models.CharField(blank=True, choices=[('none', 'no dosing pump here'), ('on', 'on'), ('off', 'off'), ('unplugged', 'unplugged')], max_length=10),
        ),
    ]
