from jobs.models.appliances import Appliance, Earlier, Precision
from jobs.models.charges import Charge, ServiceCheck
from jobs.models.customers import Address, Contact, Customer
from jobs.models.loads import BackTest, LoadLine, LoadProposal
from jobs.models.moves import MoveLine, MoveList
from jobs.models.symptoms import Cause, NoPartCause, Symptom, usual_components
from jobs.models.work import Finding, Fitted, Job, Needed, TakenOut, Visit, VisitEngineer, Why

__all__ = [
    "Address",
    "Appliance",
    "BackTest",
    "Cause",
    "Charge",
    "Contact",
    "Customer",
    "Earlier",
    "Finding",
    "Fitted",
    "Job",
    "LoadLine",
    "LoadProposal",
    "MoveLine",
    "MoveList",
    "Needed",
    "NoPartCause",
    "Precision",
    "ServiceCheck",
    "Symptom",
    "TakenOut",
    "Visit",
    "VisitEngineer",
    "Why",
    "usual_components",
]
