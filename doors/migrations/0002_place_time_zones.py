"""A place gets its time zone; those that stand keep the days of UTC."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("doors", "0001_initial")]

    operations = [
        migrations.AddField(
            model_name="jurisdiction",
            name="time_zone",
            field=models.CharField(default="UTC", max_length=64),
        ),
    ]
