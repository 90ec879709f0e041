from jobs.models.appliances import Appliance, Earlier, Precision
from jobs.models.customers import Address, Contact, Customer
from jobs.models.loads import LoadLine, LoadProposal
from jobs.models.work import (
    Cause,
    Charge,
    Finding,
    Fitted,
    Job,
    Needed,
    NoPartCause,
    ServiceCheck,
    Symptom,
    TakenOut,
    Visit,
    VisitEngineer,
    Why,
    usual_components,
)

__all__ = [
    "Address",
    "Appliance",
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
