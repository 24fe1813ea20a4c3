"""Which of a board's groups is the motor's main one, and in which its main voltage and current are. Pure."""

from firmware_protocol import Role
from server.motors import MotorType
from server.quantities.layout import MAIN_ROLES
from server.stream.scaling import Group


def main_group(groups: tuple[Group, ...], motor: MotorType | None) -> Group | None:
    """The group with the motor's main current, else the one with most voltages and currents."""

    def rank(group: Group) -> tuple[bool, int]:
        currents = [each for each in group.channels if each.role is Role.CURRENT]
        main = motor is not None and any(each.place.casefold() == motor.current_place.casefold() for each in currents)
        return main, len(currents) + sum(each.role is Role.VOLTAGE for each in group.channels)

    return max(groups, key=rank, default=None)


def main_roles(groups: tuple[Group, ...], motor: MotorType | None, main: Group | None) -> dict[int, frozenset[Role]]:
    """For each group the roles whose main row, the one without a place, is in it: one at the motor's place goes before
    one of the main group, and that before any other."""
    roles: dict[int, set[Role]] = {group.index: set() for group in groups}
    for role in MAIN_ROLES:
        place = "" if motor is None else motor.voltage_place if role is Role.VOLTAGE else motor.current_place
        found = [(group, each) for group in groups for each in group.channels if each.role is role]
        best = max(found, key=lambda at: (at[1].place.casefold() == place.casefold(), at[0] is main), default=None)
        if best is not None:
            roles[best[0].index].add(role)
    return {index: frozenset(its) for index, its in roles.items()}
