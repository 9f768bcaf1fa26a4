"""Letters with a link that opens an account kept their text while they waited or after a refusal."""

from django.db import migrations


def forget_texts(apps, schema_editor):
    mails = apps.get_model("jobs", "OutboxMail").objects.using(schema_editor.connection.alias)
    opening = mails.filter(template__in=["account_invitation", "password_reset"])
    opening.exclude(rendered=None).update(rendered=None)


class Migration(migrations.Migration):
    dependencies = [("jobs", "0023_password_asks")]

    operations = [migrations.RunPython(forget_texts, migrations.RunPython.noop)]
