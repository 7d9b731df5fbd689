"""The tables of who owns what and where, who may ask, and what happened."""

from doors.models.custody import Custody
from doors.models.grants import Grant
from doors.models.jobs import Claimable, Job
from doors.models.jurisdictions import Jurisdiction
from doors.models.keys import EVERY_SCOPE, Key
from doors.models.ledger import LedgerEntry, LedgerHead
from doors.models.openings import DOOR_TYPES, Opening, OpeningFacts, OpeningTag
from doors.models.organizations import Capability, Organization
from doors.models.overrides import Override
from doors.models.people import Person
from doors.models.replays import Replay
from doors.models.sight import ACTIONS, Sight
from doors.models.sites import Site, SitePlace

__all__ = [
    "ACTIONS",
    "DOOR_TYPES",
    "EVERY_SCOPE",
    "Capability",
    "Claimable",
    "Custody",
    "Grant",
    "Job",
    "Jurisdiction",
    "Key",
    "LedgerEntry",
    "LedgerHead",
    "Opening",
    "OpeningFacts",
    "OpeningTag",
    "Organization",
    "Override",
    "Person",
    "Replay",
    "Sight",
    "Site",
    "SitePlace",
]
