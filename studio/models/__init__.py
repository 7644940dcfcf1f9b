"""All tables, one subject a file."""

from .attendance import ATTENDED, MISSED, Attendance, AttendanceSaid, MakeUp
from .bring import BroughtFile
from .calendar import CalendarFeed
from .classes import Course, Enrolment, Holiday, Room, Session, Teaching
from .devices import Device
from .enrolling import ClassRules, Consent, EnrolRequest, Waiting
from .firings import Firing, Layer, Override, Placement, UnloadAnswer
from .forecasts import RangesHeld
from .gallery import Showing
from .glaze_diary import DiaryNote
from .glaze_results import Combination, CombinationLayer, GlazeResult
from .glazes import DataSheet, Glaze, GlazeBatch, GlazeOnPiece, Layering
from .kiln_care import CareReminder, CareSilence, KilnCare
from .kiln_devices import KilnDevice
from .kilns import Kiln, PropStock
from .laboratory import LabReport, LabTest
from .length_pairs import LengthPair
from .load_changes import LoadChange
from .money import Charge, CostLine, FiringShare, Payment, Settlement
from .notices import (
    Announcement,
    MailOff,
    Notice,
    NoticePiece,
    NoticeRound,
    NoticeWording,
    WorkerBeat,
)
from .orphans import OrphanClaim
from .people import Attempt, Person, Role, SignInCode
from .pieces import ClayBody, Event, FinishingJob, Flaw, FlawKind, Photo, Piece, PieceSet
from .programmes import Programme, ProgrammeSegment
from .proposals import Proposal
from .readings import FiringAlarm, Reading, ReadingsFile
from .retention import KeepingPeriods, KeepingRun
from .second_steps import Authenticator, Passkey, RecoveryCode
from .sharing import MakerKind, SharingPolicy, Tariff, TariffSpan
from .shelves import Shelf, Tag
from .statements import Statement, StatementFile, StatementLine, TaxRate
from .studio import Studio
from .tiles import SeriesTile, TileSeries
from .wishes import Wish
from .witness_cones import WitnessCone

__all__ = [
    "ATTENDED",
    "MISSED",
    "Announcement",
    "Attempt",
    "Attendance",
    "AttendanceSaid",
    "Authenticator",
    "BroughtFile",
    "CalendarFeed",
    "CareReminder",
    "CareSilence",
    "Charge",
    "ClassRules",
    "ClayBody",
    "Combination",
    "CombinationLayer",
    "Consent",
    "CostLine",
    "Course",
    "DataSheet",
    "Device",
    "DiaryNote",
    "EnrolRequest",
    "Enrolment",
    "Event",
    "FinishingJob",
    "Firing",
    "FiringAlarm",
    "FiringShare",
    "Flaw",
    "FlawKind",
    "Glaze",
    "GlazeBatch",
    "GlazeOnPiece",
    "GlazeResult",
    "Holiday",
    "KeepingPeriods",
    "KeepingRun",
    "Kiln",
    "KilnCare",
    "KilnDevice",
    "LabReport",
    "LabTest",
    "Layer",
    "Layering",
    "LengthPair",
    "LoadChange",
    "MailOff",
    "MakeUp",
    "MakerKind",
    "Notice",
    "NoticePiece",
    "NoticeRound",
    "NoticeWording",
    "OrphanClaim",
    "Override",
    "Passkey",
    "Payment",
    "Person",
    "Photo",
    "Piece",
    "PieceSet",
    "Placement",
    "Programme",
    "ProgrammeSegment",
    "PropStock",
    "Proposal",
    "RangesHeld",
    "Reading",
    "ReadingsFile",
    "RecoveryCode",
    "Role",
    "Room",
    "SeriesTile",
    "Session",
    "Settlement",
    "SharingPolicy",
    "Shelf",
    "Showing",
    "SignInCode",
    "Statement",
    "StatementFile",
    "StatementLine",
    "Studio",
    "Tag",
    "Tariff",
    "TariffSpan",
    "TaxRate",
    "Teaching",
    "TileSeries",
    "UnloadAnswer",
    "Waiting",
    "Wish",
    "WitnessCone",
    "WorkerBeat",
]
