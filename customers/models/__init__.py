from customers.models.firm import Firm, Trail, User
from customers.models.parties import Contact, ContactRole, Customer, MailStop, SignedLink
from customers.models.places import (
    Hazard,
    OpeningHours,
    OwnerHours,
    Ownership,
    Pond,
    Region,
    SecretLook,
    Site,
    SiteSecret,
)
from customers.models.sealed import SealBroken

__all__ = [
    "Contact",
    "ContactRole",
    "Customer",
    "Firm",
    "Hazard",
    "MailStop",
    "OpeningHours",
    "OwnerHours",
    "Ownership",
    "Pond",
    "Region",
    "SealBroken",
    "SecretLook",
    "SignedLink",
    "Site",
    "SiteSecret",
    "Trail",
    "User",
]
