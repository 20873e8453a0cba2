from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("equipment", "0001_initial")]

    operations = [
        migrations.AddField(
            model_name="system",
            name="records_from_on",
            field=models.DateField(
                blank=True,
                help_text="Since then all work is on record; empty: since the beginning.",
                null=True,
            ),
        ),
    ]
