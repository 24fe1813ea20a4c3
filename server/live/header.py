"""Records to the JSON of SOCKET.md. Pure."""

from dataclasses import asdict

from server.connection import Finding
from server.live.records import Connection, Recording, Shown
from server.readings import Event


def connection_record(connection: Connection) -> dict[str, object]:
    """`connection` of a picture."""
    return {**asdict(connection), "state": connection.state.value}


def recording_record(recording: Recording) -> dict[str, object]:
    """`recording` of a picture."""
    return {**asdict(recording), "state": recording.state.value}


def motor_record(motor: Shown) -> dict[str, object]:
    """`motor` of a picture; what is not known of the plate is left out."""
    plate = {key: value for key, value in asdict(motor.plate).items() if value is not None}
    return {"name": motor.name, "type": motor.type, "plate": plate, "plate_source": motor.plate_source}


def event_record(event: Event, utc_s: float) -> dict[str, object]:
    """One of the `events` of a picture."""
    detail, decisive = event.detail, event.decisive
    return {"kind": event.kind, "text": event.text, "detail": detail, "decisive": decisive, "utc_s": utc_s}


def finding_record(finding: Finding) -> dict[str, object]:
    """One of the `findings` of a picture."""
    key, sensor, place = finding.id
    return {
        "key": key,
        "sensor": str(sensor),
        "place": place,
        "verdict": finding.verdict.value,
        "text": finding.text,
        "change": finding.change,
    }
