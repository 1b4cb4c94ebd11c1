from fleetcool.models.people import Person, Role, UnitSystem

__all__ = ["Person", "Role", "UnitSystem"]
