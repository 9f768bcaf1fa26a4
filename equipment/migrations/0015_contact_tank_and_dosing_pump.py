from django.db import migrations, models


class Migration(migrations.Migration):
    """Forms and lists say contact tank, dosing pump, well pump and backwash."""

    dependencies = [
        ('equipment', '0014_a_strip_says_a_range'),
    ]

    operations = [
        migrations.AlterField(
            model_name='historicalmedium',
            name='interval_max_days',
            field=models.PositiveSmallIntegerField(verbose_name='longest backwash interval'),
        ),
        migrations.AlterField(
            model_name='historicalstage',
            name='kind',
            field=models.CharField(choices=[('feeder', 'dosing pump'), ('retention', 'contact tank'), ('filter', 'backwashing filter'), ('softener', 'softener'), ('neutralizer', 'neutralizer'), ('sediment', 'sediment filter'), ('cartridge', 'cartridge filter'), ('uv', 'UV unit'), ('aeration', 'aeration tank')], max_length=12),
        ),
        migrations.AlterField(
            model_name='historicaltrain',
            name='retention_side',
            field=models.CharField(blank=True, choices=[('before', 'before the pressure tank'), ('after', 'after the pressure tank')], max_length=8, verbose_name='contact tank'),
        ),
        migrations.AlterField(
            model_name='historicaltrain',
            name='switching',
            field=models.CharField(blank=True, choices=[('switch_load', 'load side of the pressure switch'), ('current_relay', 'current-sensing relay'), ('drive_contact', 'run contact of the drive of the well pump'), ('flow_switch', 'flow switch'), ('metered', 'metered pulses'), ('always_live', 'always live')], max_length=14, verbose_name='how the dosing pump is switched'),
        ),
        migrations.AlterField(
            model_name='historicalwell',
            name='control',
            field=models.CharField(choices=[('switch', 'pressure switch'), ('constant', 'constant pressure (variable-speed well pump)'), ('unknown', 'not known')], default='unknown', max_length=10),
        ),
        migrations.AlterField(
            model_name='medium',
            name='interval_max_days',
            field=models.PositiveSmallIntegerField(verbose_name='longest backwash interval'),
        ),
        migrations.AlterField(
            model_name='stage',
            name='kind',
            field=models.CharField(choices=[('feeder', 'dosing pump'), ('retention', 'contact tank'), ('filter', 'backwashing filter'), ('softener', 'softener'), ('neutralizer', 'neutralizer'), ('sediment', 'sediment filter'), ('cartridge', 'cartridge filter'), ('uv', 'UV unit'), ('aeration', 'aeration tank')], max_length=12),
        ),
        migrations.AlterField(
            model_name='train',
            name='retention_side',
            field=models.CharField(blank=True, choices=[('before', 'before the pressure tank'), ('after', 'after the pressure tank')], max_length=8, verbose_name='contact tank'),
        ),
        migrations.AlterField(
            model_name='train',
            name='switching',
            field=models.CharField(blank=True, choices=[('switch_load', 'load side of the pressure switch'), ('current_relay', 'current-sensing relay'), ('drive_contact', 'run contact of the drive of the well pump'), ('flow_switch', 'flow switch'), ('metered', 'metered pulses'), ('always_live', 'always live')], max_length=14, verbose_name='how the dosing pump is switched'),
        ),
        migrations.AlterField(
            model_name='well',
            name='control',
            field=models.CharField(choices=[('switch', 'pressure switch'), ('constant', 'constant pressure (variable-speed well pump)'), ('unknown', 'not known')], default='unknown', max_length=10),
        ),
    ]
