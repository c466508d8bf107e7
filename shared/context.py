"""What every page knows: who is signed in, for which department, and what they may do."""

from django.http import HttpRequest

from shared.walls import CAPABILITIES, may


def page(request: HttpRequest) -> dict[str, object]:
    membership = getattr(request, "membership", None)
    return {
        "membership": membership,
        "department": getattr(request, "department", None),
        "can": {capability: may(membership, capability) for capability in CAPABILITIES},
    }
