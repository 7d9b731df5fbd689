"""What is asked of somebody before a door that sounds or stands where it should not."""

from __future__ import annotations

from django.utils.translation import gettext_noop

_UNKNOWN = gettext_noop("I do not know")
QUESTIONS = {
    "alarm": (
        gettext_noop("Is the building's alarm sounding?"),
        {"yes": gettext_noop("Yes"), "no": gettext_noop("No"), "not_known": _UNKNOWN},
    ),
    "heard": (
        gettext_noop("What do you hear from the door?"),
        {
            "steady": gettext_noop("A steady sound"),
            "repeated": gettext_noop("A sound that comes again and again"),
            "silent": gettext_noop("Nothing"),
            "not_known": _UNKNOWN,
        },
    ),
    "door": (
        gettext_noop("Where does the door stand?"),
        {
            "open": gettext_noop("Open"),
            "closed": gettext_noop("Closed"),
            "part_way": gettext_noop("Part way"),
            "not_known": _UNKNOWN,
        },
    ),
    "mains": (
        gettext_noop("Is there mains power where the door is?"),
        {"on": gettext_noop("Yes"), "off": gettext_noop("No"), "not_known": _UNKNOWN},
    ),
}
