"""Technicians take along the jobs they are on. Shops that exist already stay as they were: theirs take all."""

from django.db import migrations, models

HELP = "Technicians may take along every job in work, not only those they are on"


class Migration(migrations.Migration):
    dependencies = [("jobs", "0012_second_factor")]

    operations = [
        migrations.AddField(
            model_name="shop",
            name="technicians_take_all",
            field=models.BooleanField(default=True, help_text=HELP),
        ),
        migrations.AlterField(
            model_name="shop",
            name="technicians_take_all",
            field=models.BooleanField(default=False, help_text=HELP),
        ),
    ]
