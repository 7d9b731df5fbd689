"""The tables of who owns what and where, who may ask, and what happened."""

from doors.models.accounts import Account
from doors.models.blobs import Blob, Photo
from doors.models.custody import Custody, CustodyOffer
from doors.models.devices import INITIATING, Battery, Device, DeviceKind
from doors.models.door_codes import DoorCode
from doors.models.exports import Export
from doors.models.grants import Grant
from doors.models.imports import Import, ImportRow
from doors.models.invitations import Invitation
from doors.models.jobs import Claimable, Job
from doors.models.jurisdictions import Jurisdiction
from doors.models.keys import EVERY_SCOPE, Key
from doors.models.ledger import LedgerEntry, LedgerHead
from doors.models.members import ROLES, Member, Role
from doors.models.openings import DOOR_TYPES, PARTICULARS, Opening, OpeningFacts, OpeningTag
from doors.models.organizations import KEEPERS, Capability, Organization
from doors.models.outages import Outage
from doors.models.overrides import Override
from doors.models.people import Person
from doors.models.replays import Replay
from doors.models.sandboxes import Sandbox, SandboxMessage
from doors.models.sight import ACTIONS, Sight
from doors.models.sites import Site, SitePlace

__all__ = [
    "ACTIONS",
    "DOOR_TYPES",
    "EVERY_SCOPE",
    "INITIATING",
    "KEEPERS",
    "PARTICULARS",
    "ROLES",
    "Account",
    "Battery",
    "Blob",
    "Capability",
    "Claimable",
    "Custody",
    "CustodyOffer",
    "Device",
    "DeviceKind",
    "DoorCode",
    "Export",
    "Grant",
    "Import",
    "ImportRow",
    "Invitation",
    "Job",
    "Jurisdiction",
    "Key",
    "LedgerEntry",
    "LedgerHead",
    "Member",
    "Opening",
    "OpeningFacts",
    "OpeningTag",
    "Organization",
    "Outage",
    "Override",
    "Person",
    "Photo",
    "Replay",
    "Role",
    "Sandbox",
    "SandboxMessage",
    "Sight",
    "Site",
    "SitePlace",
]
