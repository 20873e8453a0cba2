from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("equipment", "0002_system_records_from_on")]

    operations = [
        migrations.AddField(
            model_name="system",
            name="registered_on",
            field=models.DateField(
                blank=True,
                help_text="The day on which a register of the firm's brought it in.",
                null=True,
            ),
        ),
    ]
