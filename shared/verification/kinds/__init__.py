"""Every kind of check value, by subject; importing this fills the registry."""

from shared.verification.kinds import air, dates, electric, greywater, heat, hydraulics, people, propane

__all__ = ["air", "dates", "electric", "greywater", "heat", "hydraulics", "people", "propane"]
