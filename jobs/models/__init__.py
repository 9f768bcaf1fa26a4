"""People and promises."""

from .acts import Act, ActAnswer, ActNote
from .checklists import BlockOrder, ChecklistLine, ChecklistTemplate, LineEdit
from .company import Company
from .customers import Customer, SiteTenure
from .driving import TownDrive
from .facts import CallbackFact, Follow, HandoverFact, HandoverHelper, LossFact
from .follow_ups import ContactAttempt, FollowUp, Happening
from .history import LogEntry, Night, PasswordAsk, SubmittedForm, WorkerPass
from .jobs import Job
from .notice_told import NoticeTold
from .notices import DoNotUse
from .outbox import ChannelStop, MailHold, OutboxMail
from .phone_calls import PhoneCall
from .phones import Phone
from .photos import Photo, Picture
from .recalls import Recall, RecalledPiece, RecallTold
from .records import (
    Acknowledgement,
    Answer,
    ChecklistRecord,
    DialStep,
    Document,
    Override,
    PourTold,
    RecordCorrection,
    Timer,
)
from .requests import VisitRequest
from .rules import FACTS, FACTS_TOLD, FollowUpRule, RuleCode, RuleContent, RuleVersion
from .search_words import SearchPiece, SearchWord
from .staff import Skill, StaffProfile
from .strips import StripCheck, StripLot
from .telling import VisitTold
from .treated import HeldByTreatment
from .verdicts import Verdict
from .visits import TechnicianSlot, Visit
from .waits import LaboratoryDay, VisitWait
from .water_told import ResultToldTo
from .working_time import Absence, CompanyDay, Giving, WorkHours, WorkNeed

__all__ = [
    "FACTS",
    "FACTS_TOLD",
    "Absence",
    "Acknowledgement",
    "Act",
    "ActAnswer",
    "ActNote",
    "Answer",
    "BlockOrder",
    "CallbackFact",
    "ChannelStop",
    "ChecklistLine",
    "ChecklistRecord",
    "ChecklistTemplate",
    "Company",
    "CompanyDay",
    "ContactAttempt",
    "Customer",
    "DialStep",
    "DoNotUse",
    "Document",
    "Follow",
    "FollowUp",
    "FollowUpRule",
    "Giving",
    "HandoverFact",
    "HandoverHelper",
    "Happening",
    "HeldByTreatment",
    "Job",
    "LaboratoryDay",
    "LineEdit",
    "LogEntry",
    "LossFact",
    "MailHold",
    "Night",
    "Override",
    "PourTold",
    "NoticeTold",
    "OutboxMail",
    "PasswordAsk",
    "Phone",
    "PhoneCall",
    "Photo",
    "Picture",
    "Recall",
    "RecallTold",
    "RecalledPiece",
    "RecordCorrection",
    "ResultToldTo",
    "RuleCode",
    "RuleContent",
    "RuleVersion",
    "SearchPiece",
    "SearchWord",
    "SiteTenure",
    "Skill",
    "StaffProfile",
    "StripCheck",
    "StripLot",
    "SubmittedForm",
    "TechnicianSlot",
    "TownDrive",
    "Timer",
    "Verdict",
    "Visit",
    "VisitRequest",
    "VisitTold",
    "VisitWait",
    "WorkHours",
    "WorkNeed",
    "WorkerPass",
]
